#include "image/format.h"
#include "image/frame_name.h"

#include <check.h>
#include <stdio.h>
#include <string.h>

/* A format is found in folders by its row alone. */
START_TEST(test_each_ending_of_the_table_is_a_frame)
{
    int seen = 0;
    for (const struct format *f = format_table; f->name; f++) {
        char endings[300], *rest = endings;
        snprintf(endings, sizeof endings, "%s", f->endings);
        for (char *ending; (ending = strtok_r(rest, " ", &rest)); seen++) {
            char name[40];
            snprintf(name, sizeof name, "some.folder/a.%s", ending);
            ck_assert_msg(frame_name_is_frame(name), "%s", name);
            ck_assert_int_eq(frame_name_is_raw(name), f->can.camera_raw);
        }
    }
    ck_assert_int_gt(seen, 30);
    ck_assert(frame_name_is_frame("IMG_0001.CR2"));
    ck_assert(!frame_name_is_frame("a.jp") && !frame_name_is_frame("a.jpgx"));
    ck_assert(!frame_name_is_frame(".hidden.jpg") && !frame_name_is_frame("jpg"));
    ck_assert(!frame_name_is_frame("a.") && !frame_name_is_frame("a.jpg jpeg"));
}
END_TEST

Suite *frame_name_suite(void);
Suite *frame_name_suite(void)
{
    Suite *suite = suite_create("frame_name");
    TCase *tests = tcase_create("frame_name");
    tcase_add_test(tests, test_each_ending_of_the_table_is_a_frame);
    suite_add_tcase(suite, tests);
    return suite;
}
