/* A whole night by a clock that is right, an hour off or a day: what of it is noticed, and by what.
 */
#include "jobs/night_clock.h"
#include "near.h"
#include "night_fixture.h"
#include "sample.h"
#include "stand_fixture.h"

#include <string.h>

Suite *night_clock_suite(void);

enum { FRAMES = 12 };
static const double cadence_s = 600;

/* How the frames came into the folder. */
enum way { WAY_LIVE, WAY_COPIED, WAY_UNKNOWN };

struct night {
    struct tripod tripod;
    struct rig_place stands;
    struct rig rig;
    struct night_plan plan;
    struct night_list list;
};

/* At a middle latitude, any azimuth, around midnight, levelled to a degree. */
static void draw(struct night *night, struct random *random)
{
    struct tripod tripod = tripod_anywhere(random);
    ck_assert(time_read(&tripod.utc, "2026-02-24T23:00:00"));
    tripod.utc = time_add(tripod.utc, 86400.0 * floor(random_between(random, 0, 300)));
    tripod.place.latitude_deg = random_between(random, -45, 45);
    tripod.place.longitude_deg = random_between(random, -10, 20);
    tripod.altitude_deg = random_between(random, 20, 70);
    tripod.roll_deg = random_normal(random) * 0.5;
    *night = (struct night){.tripod = tripod,
                            .stands = {.latitude_deg = tripod.place.latitude_deg,
                                       .longitude_deg = tripod.place.longitude_deg}};
    night->rig.place = &night->stands;
    night->plan.from = time_stamp_utc(time_add(tripod.utc, -3600), 0);
    night->plan.until = time_stamp_utc(time_add(tripod.utc, 3 * 3600.0), 0);
}

/* A file of the night: as the camera's clock has it, and as this computer's has its file. */
static struct night_frame take(const struct night *night, int number, double fast_s, enum way way)
{
    const double unix_epoch_days = 2440587.5, exposure_s = 2;
    double later_s = number * cadence_s;
    struct wcs wcs = tripod_wcs(&night->tripod, later_s);
    struct night_frame frame = night_fixture_frame("frame.jpg", 0, 0);
    struct utc mid = time_add(night->tripod.utc, later_s);
    frame.width = wcs.width;
    frame.height = wcs.height;
    wcs_centre(&wcs, &frame.ra_deg, &frame.dec_deg);
    frame.scale_arcsec = wcs_scale_arcsec(&wcs);
    frame.up_angle_deg = wcs_up_angle_deg(&wcs);
    frame.exposure_s = exposure_s;
    frame.start_utc = time_stamp_utc(time_add(mid, fast_s - exposure_s / 2), 6);
    double written_s = time_between((struct utc){unix_epoch_days, 0}, mid) + 3;
    if (way == WAY_COPIED) { /* the next noon, one after the other */
        written_s += 43200 - number * (cadence_s - 0.5);
    }
    frame.modified_ns = way == WAY_UNKNOWN ? 0 : (long long)(written_s * 1e9);
    return frame;
}

static struct clock_doubt doubt_of(struct night *night, double fast_s, enum way way, bool planned)
{
    struct clock_doubt doubt;
    night->list =
        (struct night_list){.frame = calloc(FRAMES, sizeof *night->list.frame), .count = FRAMES};
    for (int i = 0; i < FRAMES; i++) {
        night->list.frame[i] = take(night, i, fast_s, way);
    }
    night_clock_doubt(&doubt, &night->list, &night->rig, planned ? &night->plan : NULL);
    night_list_free(&night->list);
    return doubt;
}

/* How many nights of so many are doubted, and how many of these for the right amount. */
static int doubted(int *right, int nights, uint64_t seed, double fast_s, enum way way, bool planned)
{
    struct random random = {seed};
    int found = 0;
    *right = 0;
    for (int i = 0; i < nights; i++) {
        static struct night night;
        draw(&night, &random);
        struct clock_doubt doubt = doubt_of(&night, fast_s, way, planned);
        found += doubt.by != CLOCK_DOUBT_NONE;
        *right += doubt.by != CLOCK_DOUBT_NONE && fabs(doubt.fast_s - fast_s) < 600;
    }
    return found;
}

enum { NIGHTS = 20 };

START_TEST(a_night_by_a_right_clock_is_left_in_peace)
{
    int right;
    int nights = sample(NIGHTS);
    ck_assert_int_eq(doubted(&right, nights, 41 + (uint64_t)_i, 0, (enum way)(_i % 3), _i < 3), 0);
}
END_TEST

/* Whether frames came live or a plan lies beside them, each alone tells a day. */
START_TEST(a_night_that_is_a_day_off_is_noticed)
{
    const double fast_s = _i % 2 ? 86400 : -86400;
    int right, live = doubted(&right, NIGHTS, 42, fast_s, WAY_LIVE, false);
    ck_assert_int_eq(live, NIGHTS);
    ck_assert_int_eq(right, NIGHTS);
    ck_assert_int_eq(doubted(&right, NIGHTS, 43, fast_s, WAY_UNKNOWN, true), NIGHTS);
    ck_assert_int_eq(right, NIGHTS);
    ck_assert_int_eq(doubted(&right, NIGHTS, 44, fast_s, WAY_COPIED, true), NIGHTS);
}
END_TEST

/* By the stars alone it cannot be: they are where they were a day before but for four minutes, one
 * degree, which is as well as cameras are levelled. Nothing is made up then. */
START_TEST(a_day_does_not_show_in_stars)
{
    int right;
    ck_assert_int_eq(doubted(&right, NIGHTS, 45, 86400, WAY_UNKNOWN, false), 0);
    ck_assert_int_eq(doubted(&right, NIGHTS, 46, -86400, WAY_COPIED, false), 0);
}
END_TEST

/* By the level, where the camera looks south or north; by the Sun, at an end of the night. */
START_TEST(an_hour_is_noticed_in_many_nights)
{
    int right, found = doubted(&right, 2 * NIGHTS, 47, _i % 2 ? 3600 : -3600, WAY_COPIED, true);
    ck_assert_int_ge(found, 2 * NIGHTS * 3 / 10);
    ck_assert_int_ge(right, found * 9 / 10);
}
END_TEST

Suite *night_clock_suite(void)
{
    Suite *suite = suite_create("night clock");
    TCase *c = tcase_create("night clock");
    tcase_set_timeout(c, 60);
    tcase_add_loop_test(c, a_night_by_a_right_clock_is_left_in_peace, 0, 6);
    tcase_add_loop_test(c, a_night_that_is_a_day_off_is_noticed, 0, 2);
    tcase_add_test(c, a_day_does_not_show_in_stars);
    tcase_add_loop_test(c, an_hour_is_noticed_in_many_nights, 0, 2);
    suite_add_tcase(suite, c);
    return suite;
}
