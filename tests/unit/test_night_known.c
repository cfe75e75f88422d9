/* Frames of a log, found again by their files; several lines of one frame; copies. */
#include "base/path.h"
#include "night/night_known.h"
#include "night/night_unite.h"
#include "scratch.h"

#include <sys/stat.h>

Suite *night_known_suite(void);

struct line {
    const char *name;
    long long bytes, modified_ns;
    uint64_t digest;
    bool unread; /* for a reason that may pass */
};

static void fill_list(struct night_list *list, const struct line *line, int count)
{
    struct error err = {0};
    for (int i = 0; i < count; i++) {
        struct night_frame frame = {.bytes = line[i].bytes,
                                    .modified_ns = line[i].modified_ns,
                                    .digest = line[i].digest,
                                    .read = !line[i].unread,
                                    .unread = CAUSE_DEVICE,
                                    .detected = i};
        frame.name = malloc(strlen(line[i].name) + 1);
        ck_assert_ptr_nonnull(frame.name);
        strcpy(frame.name, line[i].name);
        ck_assert_int_eq(night_list_add(list, &frame, &err), 0);
    }
}

/* Number of the line that is found; -1: none. */
static int find(const struct line *line, int count, const char *name, struct night_file file)
{
    struct night_list list = {0};
    struct night_known known = {0};
    struct error err = {0};
    fill_list(&list, line, count);
    ck_assert_int_eq(night_known_index(&known, &list, &err), 0);
    const struct night_frame *found = night_known_find(&known, name, &file);
    int number = found ? (int)(found - list.frame) : -1;
    night_known_free(&known);
    night_list_free(&list);
    return number;
}

#define FIND(lines, name, length, modified, content)                                               \
    find(lines, (int)(sizeof(lines) / sizeof *(lines)), name,                                      \
         (struct night_file){.bytes = length, .modified_ns = modified, .digest = content})

START_TEST(test_by_content)
{
    static const struct line lines[] = {{"./a.jpg", 10, 1, 7, true},
                                        {"./b.jpg", 10, 1, 8, false},
                                        {"n/a.jpg", 10, 2, 7, false},
                                        {"n/c.jpg", 11, 1, 7, false}};
    ck_assert_int_eq(FIND(lines, "elsewhere/z.png", 10, 99, 7), 2); /* the last of two */
    ck_assert_int_eq(FIND(lines, "a.jpg", 11, 1, 7), 3);
    ck_assert_int_eq(FIND(lines, "a.jpg", 10, 1, 8), 1);
    /* The same name, length and time, and another content: another frame. */
    ck_assert_int_eq(FIND(lines, "./a.jpg", 10, 1, 9), -1);
    /* It cannot be read now: what it was, by its name. */
    ck_assert_int_eq(FIND(lines, "./a.jpg", 10, 1, 0), 0);
    ck_assert_int_eq(FIND(lines, "./a.jpg", 10, 3, 0), -1);
}
END_TEST

/* Lines without a digest, as older versions wrote them. */
START_TEST(test_by_name)
{
    static const struct line one[] = {{"./a.jpg", 10, 1, 0, false}};
    ck_assert_int_eq(FIND(one, "/card/night/a.jpg", 10, 1, 7), 0);
    ck_assert_int_eq(FIND(one, "/card/night/a.jpg", 10, 2, 7), -1);
    ck_assert_int_eq(FIND(one, "/card/night/a.jpg", 11, 1, 7), -1);
    ck_assert_int_eq(FIND(one, "/card/night/b.jpg", 10, 1, 7), -1);
    static const struct line two[] = {{"n/x/a.jpg", 10, 1, 0, false},
                                      {"n/y/a.jpg", 10, 1, 0, false},
                                      {"n/y/a.jpg", 10, 1, 0, false}};
    ck_assert_int_eq(FIND(two, "../n/x/a.jpg", 10, 1, 7), 0);
    ck_assert_int_eq(FIND(two, "./n/y/a.jpg", 10, 1, 7), 2);
    ck_assert_int_eq(FIND(two, "a.jpg", 10, 1, 7), -1); /* which? */
    ck_assert_int_eq(FIND(two, "z/a.jpg", 10, 1, 7), -1);
}
END_TEST

/* Names of a line that are there are looked at. */
START_TEST(test_by_place)
{
    char one[512], two[512], other[600];
    struct night_file file;
    snprintf(one, sizeof one, "%s", scratch_write("a.jpg", "one", 3));
    ck_assert_int_eq(mkdir(scratch_path("x"), 0700), 0);
    snprintf(two, sizeof two, "%s", scratch_write("x/a.jpg", "two", 3));
    night_file_look(&file, two);
    const struct line lines[] = {{one, 3, file.modified_ns, 0, false},
                                 {two, 3, file.modified_ns, 0, false}};
    ck_assert_int_eq(find(lines, 2, two, file), 1);
    snprintf(other, sizeof other, "%s/x/../x/a.jpg", scratch_folder);
    ck_assert_int_eq(find(lines, 2, other, file), 1);
    ck_assert_int_eq(find(lines, 1, two, file), -1); /* the line is of another file */
    unlink(two);
}
END_TEST

START_TEST(test_settled)
{
    static const struct line lines[] = {{"a", 1, 1, 1, true},
                                        {"a", 1, 1, 1, false},
                                        {"b", 1, 1, 2, false},
                                        {"b", 1, 1, 2, true},
                                        {"c", 1, 1, 3, false}};
    struct night_list list = {0};
    struct night_known known = {0};
    struct error err = {0};
    fill_list(&list, lines, 5);
    ck_assert_int_eq(night_known_index(&known, &list, &err), 0);
    ck_assert_int_eq(known.settled, 2);
    night_known_free(&known);
    night_list_free(&list);
}
END_TEST

START_TEST(test_seen)
{
    struct night_seen seen = {0};
    struct error err = {0};
    for (uint64_t i = 0; i < 1000; i++) {
        struct night_file file = {.bytes = (long long)(i % 3), .digest = 1 + i * 7919 % 1000};
        struct night_file longer = {.bytes = 5, .digest = file.digest};
        ck_assert(!night_seen_holds(&seen, &file));
        ck_assert_int_eq(night_seen_add(&seen, &file, &err), 0);
        ck_assert_int_eq(night_seen_add(&seen, &file, &err), 0);
        ck_assert(night_seen_holds(&seen, &file));
        ck_assert(!night_seen_holds(&seen, &longer));
    }
    ck_assert_int_eq(seen.count, 1000);
    const struct night_file unknown = {.bytes = 1};
    ck_assert_int_eq(night_seen_add(&seen, &unknown, &err), 0);
    ck_assert(!night_seen_holds(&seen, &unknown));
    night_seen_free(&seen);
}
END_TEST

/* Names of what stays, with the number of the line, as "a.jpg 3, b.jpg 1". */
static void unite(char out[200], struct night_list *list, const struct line *line, int count)
{
    struct error err = {0};
    fill_list(list, line, count);
    ck_assert_int_eq(night_unite_frames(list, &err), 0);
    out[0] = '\0';
    for (int i = 0; i < list->count; i++) {
        snprintf(out + strlen(out), 200 - strlen(out), "%s%s %d", i ? ", " : "",
                 list->frame[i].name, list->frame[i].detected);
    }
}

static void check_united(const struct line *line, int count, const char *expected, int copies)
{
    struct night_list list = {0};
    char text[200];
    unite(text, &list, line, count);
    ck_assert_str_eq(text, expected);
    ck_assert_int_eq(list.copies.frames, copies);
    night_list_free(&list);
}

#define UNITED(lines, expected, copies)                                                            \
    check_united(lines, (int)(sizeof(lines) / sizeof *(lines)), expected, copies)

START_TEST(test_unite)
{
    /* Followed from inside, reviewed from outside. */
    static const struct line inside_out[] = {{"./a", 10, 1, 7, false},
                                             {"./b", 10, 1, 8, false},
                                             {"n/a", 10, 1, 7, false},
                                             {"n/b", 10, 1, 8, false}};
    UNITED(inside_out, "n/a 2, n/b 3", 0);
    static const struct line older[] = {{"./a", 10, 1, 0, false},
                                        {"./b", 10, 1, 0, false},
                                        {"n/a", 10, 1, 0, false},
                                        {"n/b", 10, 2, 0, false}};
    UNITED(older, "n/a 2, ./b 1, n/b 3", 0);
    static const struct line half_old[] = {{"./a", 10, 1, 0, false}, {"n/a", 10, 1, 7, false}};
    UNITED(half_old, "n/a 1", 0);
    /* One name, length and time in two folders: two frames. */
    static const struct line twins[] = {{"x/a", 10, 1, 0, false}, {"y/a", 10, 1, 0, false}};
    UNITED(twins, "x/a 0, y/a 1", 0);
    static const struct line known_twins[] = {{"a", 10, 1, 7, false}, {"x/a", 10, 1, 8, false}};
    UNITED(known_twins, "a 0, x/a 1", 0);
    /* Copies are one light, and are told of. */
    static const struct line copies[] = {{"x/a", 10, 1, 7, false},
                                         {"x/b", 10, 1, 8, false},
                                         {"y/a", 10, 5, 7, false},
                                         {"y/c", 10, 5, 7, false}};
    UNITED(copies, "y/c 3, x/b 1", 1);
    /* It could not be read, then it could. */
    static const struct line later[] = {{"./a", 10, 1, 0, true}, {"n/a", 10, 1, 7, false}};
    UNITED(later, "n/a 1", 0);
    /* A line that knows nothing of its file. */
    static const struct line unknown[] = {
        {"a", 10, 1, 7, false}, {"a", 0, 0, 0, true}, {"b", 0, 0, 0, true}, {"b", 0, 0, 0, true}};
    UNITED(unknown, "a 0, b 3", 0);
    /* Two nights with the same names. */
    static const struct line nights[] = {{"./a", 10, 1, 7, false}, {"./a", 10, 9, 8, false}};
    UNITED(nights, "./a 0, ./a 1", 0);
}
END_TEST

/* Within a log the last line of a name counts, whatever it says. */
START_TEST(test_unite_names)
{
    static const struct line lines[] = {{"a", 10, 1, 7, false},
                                        {"a", 10, 1, 7, false},
                                        {"b", 10, 1, 8, false},
                                        {"a", 12, 2, 9, false}};
    struct night_list list = {0};
    struct error err = {0};
    fill_list(&list, lines, 4);
    ck_assert_int_eq(night_unite_names(&list, 1, &err), 0);
    ck_assert_int_eq(list.count, 3);
    ck_assert_uint_eq(list.frame[0].digest, 7); /* not looked at */
    ck_assert_uint_eq(list.frame[1].digest, 9);
    ck_assert_uint_eq(list.frame[2].digest, 8);
    night_list_free(&list);
}
END_TEST

START_TEST(test_copies_words)
{
    struct night_copies copies = {0};
    struct error err = {0};
    char text[200];
    night_copies_write(text, sizeof text, &copies);
    ck_assert_str_eq(text, "");
    ck_assert_int_eq(night_copies_add(&copies, "x/a.jpg", 2, &err), 0);
    night_copies_write(text, sizeof text, &copies);
    ck_assert_str_eq(text, "2 copies of a.jpg, counted once");
    ck_assert_int_eq(night_copies_add(&copies, "x/b.jpg", 3, &err), 0);
    night_copies_write(text, sizeof text, &copies);
    ck_assert_str_eq(text, "5 files are copies of 2 frames, each counted once: a.jpg ...");
    free(copies.first);
}
END_TEST

START_TEST(test_paths)
{
    static const struct {
        const char *a, *b;
        int common;
        bool may;
    } pairs[] = {
        {"a", "a", 1, true},          {"./a", "a", 1, true},      {"n/a", "a", 1, true},
        {"n/a", "./a", 1, true},      {"/c/n/a", "n/a", 2, true}, {"/c/n/a", "n//./a", 2, true},
        {"/c/n/a", "m/a", 1, false},  {"x/a", "y/a", 1, false},   {"a", "b", 0, false},
        {"n/a", "n/b", 0, false},     {"../n/a", "n/a", 2, true}, {"../../a", "n/a", 1, true},
        {"/n/a", "/m/n/a", 2, false}, {"/n/a", "/n/a", 2, true},  {"xa", "a", 0, false},
        {"..a/b", "b", 1, true},      {"", "a", 0, false},        {"", "", 0, false},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        const char *a = pairs[i].a, *b = pairs[i].b;
        ck_assert_msg(path_common_tail(a, b) == pairs[i].common, "%s and %s", a, b);
        ck_assert_msg(path_common_tail(b, a) == pairs[i].common, "%s and %s", b, a);
        ck_assert_msg(path_may_be_same(a, b) == pairs[i].may, "%s and %s", a, b);
        ck_assert_msg(path_may_be_same(b, a) == pairs[i].may, "%s and %s", b, a);
    }
}
END_TEST

Suite *night_known_suite(void)
{
    Suite *suite = suite_create("night_known");
    TCase *c = scratch_case(suite, "known");
    tcase_add_test(c, test_by_content);
    tcase_add_test(c, test_by_name);
    tcase_add_test(c, test_by_place);
    tcase_add_test(c, test_settled);
    tcase_add_test(c, test_seen);
    tcase_add_test(c, test_unite);
    tcase_add_test(c, test_unite_names);
    tcase_add_test(c, test_copies_words);
    tcase_add_test(c, test_paths);
    return suite;
}
