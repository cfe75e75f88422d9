/* What people write of times: offsets from UTC. */
#include "near.h"
#include "sky/time.h"

Suite *time_suite(void);

START_TEST(reads_offsets_as_people_write_them)
{
    static const struct {
        const char *text;
        double minutes;
    } good[] = {{"+01:00", 60},  {"1:00", 60},     {"01:00", 60},   {"+1", 60},       {"1", 60},
                {"-3:30", -210}, {"-03:30", -210}, {"+14:00", 840}, {"-14:00", -840}, {"0", 0},
                {"+05:45", 345}, {"-00:30", -30},  {"12", 720}};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        double minutes = 1e9;
        ck_assert_msg(time_read_offset(&minutes, good[i].text), "%s", good[i].text);
        assert_near(minutes, good[i].minutes, 0, "min");
    }
}
END_TEST

START_TEST(refuses_what_is_no_offset)
{
    static const char *const bad[] = {"",     "+",   "-",   "UTC",    "Z",   "+14:01", "-15",
                                      "1:60", "1:5", "1:",  "001:00", "+-1", "5.5",    "1:2:3",
                                      " 1",   "1 ",  "100", "+1:000", ":30", "+01:0x"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        double minutes = 17;
        ck_assert_msg(!time_read_offset(&minutes, bad[i]), "\"%s\" goes by", bad[i]);
        assert_near(minutes, 17, 0, "min");
    }
}
END_TEST

Suite *time_suite(void)
{
    Suite *suite = suite_create("time");
    TCase *c = tcase_create("offsets");
    tcase_add_test(c, reads_offsets_as_people_write_them);
    tcase_add_test(c, refuses_what_is_no_offset);
    suite_add_tcase(suite, c);
    return suite;
}
