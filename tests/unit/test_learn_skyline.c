/* Which stars a frame should show, by what it shows of others under its open sky. The sky is invented:
 * bright stars in rows and columns, all seen, and fainter ones far apart between them, in an index of
 * their own. */
#include "index_fixture.h"
#include "jobs/learn_skyline.h"
#include "near.h"
#include "stand_fixture.h"

#include <stdlib.h>
#include <string.h>

Suite *learn_skyline_suite(void);

enum { WIDTH = 6000, HEIGHT = 4000, EVERY = 200, MOST = 1000 };

struct invented {
    double x, y, mag;
    bool seen;
};

static struct invented star[MOST];
static int stars;
static struct tripod tripod;
static struct wcs wcs;

static void add(double x, double y, double mag, bool seen)
{
    ck_assert_int_lt(stars, MOST);
    star[stars++] = (struct invented){x, y, mag, seen};
}

/* 8 degrees wide, so high up. */
static void look_up(double altitude_deg)
{
    tripod = (struct tripod){.place = {.latitude_deg = 50, .longitude_deg = 10},
                             .azimuth_deg = 170,
                             .altitude_deg = altitude_deg,
                             .lens = {.scale_arcsec = 5, .width = WIDTH, .height = HEIGHT}};
    ck_assert(time_read(&tripod.utc, "2026-02-24T19:30:00"));
    wcs = tripod_wcs(&tripod, 0);
    stars = 0;
}

static void add_bright(double mag)
{
    for (int y = EVERY / 2; y < HEIGHT; y += EVERY) {
        for (int x = EVERY / 2; x < WIDTH; x += EVERY) {
            add(x, y, mag, true);
        }
    }
}

/* In the middle of four bright ones each, but for a little, from the upper left on; the first of them are
 * seen. Returns how many there was room for. */
static int add_faint(int most, int seen, double mag)
{
    const int apart = 2 * EVERY;
    int count = 0;
    for (int y = EVERY; y < HEIGHT; y += apart) {
        for (int x = EVERY; x < WIDTH && count < most; x += apart) {
            add(x + 20, y + 10, mag, count < seen);
            count++;
        }
    }
    return count;
}

static int which(const struct index *index, long i)
{
    double v[3], x, y;
    index_star_vector(v, &index->star[i]);
    ck_assert(wcs_pixel(&x, &y, &wcs, v));
    for (int k = 0; k < stars; k++) {
        if (hypot(x - star[k].x, y - star[k].y) < 1) {
            return k;
        }
    }
    ck_abort_msg("a star of nowhere");
    return -1;
}

static struct skyline_star sight[MOST];

/* Of all stars, how many are said to be fit to tell roofs from sky: into sight. */
static int count_sights(void)
{
    static const struct aim_wish wish = AIM_WISH_USUAL;
    static struct job_engine engine;
    const struct aim_context context = {.wish = &wish, .engine = &engine};
    const struct build_options options = {
        .name = "invented", .source = "test", .faintest = NAN, .density = 10000};
    struct catalogue catalogue = {.epoch_year = 2000};
    struct build_report report;
    struct index index = {0};
    struct skyline_sights sights;
    struct error err = {0};
    unsigned char *bytes = NULL;
    size_t size;
    for (int k = 0; k < stars; k++) {
        double ra, dec;
        wcs_radec(&ra, &dec, &wcs, star[k].x, star[k].y);
        ck_assert(catalogue_add(&catalogue, ra, dec, star[k].mag, 0.5, (uint64_t)k + 1));
    }
    ck_assert_msg(fixture_build(&bytes, &size, &report, &catalogue, &options, &err) == 0, "%s", err.text);
    ck_assert_msg(index_decode(&index, bytes, size, &err) == 0, "%s", err.text);
    ck_assert_int_eq((int)report.stars, stars);
    struct solved_frame solved = {.name = "frame.jpg", .index = &index, .solution = {.solved = true, .wcs = wcs}};
    solved.solution.pair = calloc((size_t)stars, sizeof *solved.solution.pair);
    ck_assert_ptr_nonnull(solved.solution.pair);
    for (int i = 0; i < stars; i++) {
        if (star[which(&index, i)].seen) {
            solved.solution.pair[solved.solution.matched++].catalogue = i;
        }
    }
    solved.frame.facts.start_utc = time_stamp_utc(tripod.utc, 0);
    solved.frame.facts.latitude_deg = (struct fact){tripod.place.latitude_deg, FACT_EXIF, "GPS"};
    solved.frame.facts.longitude_deg = (struct fact){tripod.place.longitude_deg, FACT_EXIF, "GPS"};
    ck_assert_int_eq(skyline_sights_open(&sights, &err), 0);
    ck_assert_msg(skyline_sights_add(&sights, &solved, &context, &err) == 0, "%s", err.text);
    int count = sights.stars;
    memcpy(sight, sights.star, (size_t)count * sizeof *sight);
    skyline_sights_free(&sights);
    free(solved.solution.pair);
    free(bytes);
    catalogue_free(&catalogue);
    return count;
}

/* The sky of the other tests: so many faint stars, some of which are seen. Returns how many tell nothing. */
static int left_out(int faint, int seen)
{
    look_up(75);
    add_bright(5);
    ck_assert_int_eq(add_faint(faint, seen, 6.1), faint);
    return stars - count_sights();
}

/* The least share of stars like one, of all that are told of, and the largest. */
static void find_shares(double *least, double *most, double *least_beside)
{
    int count = count_sights();
    *least = *least_beside = 1;
    *most = 0;
    for (int i = 0; i < count; i++) {
        *least = fmin(*least, sight[i].share);
        *least_beside = fmin(*least_beside, sight[i].share_beside);
        *most = fmax(*most, sight[i].share);
    }
}

START_TEST(thirty_stars_show_what_share_is_seen)
{
    double least, most, beside;
    left_out(33, 11);
    find_shares(&least, &most, &beside);
    assert_near(least, 1 / 3.0, 0.01, "");
    left_out(27, 9);
    find_shares(&least, &most, &beside);
    assert_near(least, 0, 0, "");
}
END_TEST

/* However many are seen, a cloud or an aeroplane may hide one. */
START_TEST(of_all_stars_that_are_seen_three_in_a_hundred_may_be_missed)
{
    double least, most, beside;
    left_out(33, 33);
    find_shares(&least, &most, &beside);
    assert_near(most, 0.97, 0.001, "");
}
END_TEST

START_TEST(stars_of_which_hardly_one_in_ten_is_seen_tell_nothing)
{
    ck_assert_int_eq(left_out(100, 11), 0);
    ck_assert_int_eq(left_out(100, 9), 100 - 9);
}
END_TEST

static void find_direction(double *azimuth, double *altitude, double x, double y)
{
    struct place place = tripod.place;
    double ra, dec;
    place.pressure_hpa = 1013;
    place.temperature_c = 10;
    wcs_radec(&ra, &dec, &wcs, x, y);
    ck_assert(horizon_from_radec(azimuth, altitude, &place, tripod.utc, ra, dec));
}

/* Of the faint ones half are seen, down to 6.25; of what is fainter nothing is known. */
static double beside_of(double mag)
{
    const double x = WIDTH / 2.0 + 20, y = HEIGHT - EVERY + 10;
    double azimuth, altitude, nearest = 180, beside = NAN;
    look_up(75);
    add_bright(5);
    add_faint(40, 20, 6.1);
    add(x, y, mag, true);
    find_direction(&azimuth, &altitude, x, y);
    for (int i = count_sights() - 1; i >= 0; i--) {
        double apart = radec_angle_deg(azimuth, altitude, sight[i].azimuth_deg, sight[i].altitude_deg);
        beside = apart < nearest ? sight[i].share_beside : beside;
        nearest = fmin(apart, nearest);
    }
    ck_assert(nearest < 0.02);
    return beside;
}

START_TEST(beside_a_roof_stars_show_as_those_a_magnitude_fainter)
{
    assert_near(beside_of(5.15), 0.5, 0.02, "");
    assert_near(beside_of(5.35), 0, 0, "");
}
END_TEST

/* Beside one bright star that is hidden there is no open sky, whatever the sixth does. */
START_TEST(the_five_nearest_brighter_stars_are_seen_in_the_open)
{
    look_up(75);
    add_bright(5);
    int bright = stars, faint = add_faint(50, 10, 6.1);
    for (int i = 0; i < bright; i++) {
        for (int k = bright; k < bright + faint; k++) {
            if (star[i].x > star[k].x && star[i].y > star[k].y && star[i].x < star[k].x + EVERY &&
                star[i].y < star[k].y + EVERY) {
                star[i].seen = false;
            }
        }
    }
    ck_assert_int_eq(stars - count_sights(), faint - 10);
}
END_TEST

/* Kasten and Young 1989, Applied Optics 28, 4735 (from memory): 37.9 at the horizon, 5.6 at 10 degrees. */
static double air(double altitude_deg)
{
    return 1 / (sin(altitude_deg * RAD_PER_DEG) + 0.50572 * pow(altitude_deg + 6.07995, -1.6364));
}

/* Near the upper rim every fourth star of 6.06 is seen, and nothing is known of what is fainter than 6.25
 * there; near the lower rim that limit is as much brighter as there is more air. Whether a hidden star
 * there counts that is fainter than the limit by so much for each air mass. */
static int counts_low(double fainter)
{
    look_up(12);
    const double top = EVERY + 10, low_y = HEIGHT - 110;
    add(WIDTH / 2.0 + 30, top, 2, true);
    add_bright(3);
    add_faint(40, 10, 6.06);
    double azimuth, low, high;
    find_direction(&azimuth, &low, WIDTH / 2.0, low_y);
    find_direction(&azimuth, &high, WIDTH / 2.0, top);
    double more = air(low) - air(high);
    ck_assert(more > 1.5);
    int without = count_sights();
    add(WIDTH / 2.0, low_y, 6.25 - 0.25 * more + fainter * more, false);
    return count_sights() - without;
}

START_TEST(the_air_takes_a_quarter_of_a_magnitude)
{
    ck_assert_int_eq(counts_low(-0.025), 1);
    ck_assert_int_eq(counts_low(0.025), 0);
}
END_TEST

Suite *learn_skyline_suite(void)
{
    Suite *suite = suite_create("learn_skyline");
    TCase *tests = tcase_create("which stars should show");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, thirty_stars_show_what_share_is_seen);
    tcase_add_test(tests, of_all_stars_that_are_seen_three_in_a_hundred_may_be_missed);
    tcase_add_test(tests, stars_of_which_hardly_one_in_ten_is_seen_tell_nothing);
    tcase_add_test(tests, beside_a_roof_stars_show_as_those_a_magnitude_fainter);
    tcase_add_test(tests, the_five_nearest_brighter_stars_are_seen_in_the_open);
    tcase_add_test(tests, the_air_takes_a_quarter_of_a_magnitude);
    suite_add_tcase(suite, tests);
    return suite;
}
