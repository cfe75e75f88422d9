/* What makes a target, a neighbour, a word and a batch in a plan: just short of each limit and just
 * beyond, with objects made up for it. */
#include "base/units.h"
#include "near.h"
#include "objects/ellipse.h"
#include "plan/plan.h"
#include "plan/plan_words.h"
#include "plan/signal_words.h"
#include "sky/vector.h"

#include <erfa.h>
#include <math.h>
#include <string.h>

Suite *plan_thresholds_suite(void);

/* 250 mm over 22.2 x 14.8 mm: 5.085 x 3.391 degrees. */
#define HEIGHT_ARCMIN (60 * 3.3910)

static struct object table[2];
static const struct objects objects = {.object = table, .count = 2, .deep_sky = 2};
static struct darkness night;
static struct plan_settings settings;
static struct plan_item item;

static void set_night(int month, int day)
{
    struct place place = {.latitude_deg = 50, .longitude_deg = 10};
    settings = (struct plan_settings){
        .camera = {250, 4, 3.7, 22.2, 14.8, 4, 0.1},
        .least_altitude_deg = 30,
        .pause_s = 1,
        .total_s = 3600,
        .sky_mag = 19.2,
        .snr = 1,
        .compose = true,
    };
    ck_assert(darkness_find(&night, &place, 2026, month, day, NAN, DARKNESS_ASTRONOMICAL));
}

/* A round nebula that is high on a winter's night without a Moon, and nothing beside it. */
static void start(void)
{
    set_night(1, 18);
    table[0] = (struct object){.id = "M 200",
                               .other_names = "",
                               .common_names = "",
                               .type = OBJECT_EMISSION_NEBULA,
                               .ra_deg = 100,
                               .dec_deg = 12,
                               .magnitude = 7,
                               .major_arcmin = 30,
                               .minor_arcmin = 30,
                               .angle_deg = NAN};
    table[1] = table[0];
    table[1].id = "M 201";
    table[1].dec_deg = -80;
}

static const char *plan_it(void)
{
    struct error err = {0};
    ck_assert_int_eq(plan_target(&item, &table[0], &objects, &night, &settings, &err), 0);
    return item.reason;
}

/* Whether it is one of the reasons, which are parted by commas. */
static bool has_reason(const char *wanted)
{
    char text[PLAN_REASON_SIZE + 4], framed[60];
    snprintf(text, sizeof text, ", %s,", plan_it());
    snprintf(framed, sizeof framed, ", %s,", wanted);
    return strstr(text, framed) != NULL;
}

static void set_size(double arcmin)
{
    table[0].major_arcmin = table[0].minor_arcmin = arcmin;
}

/* Fainter than the sky by so many magnitudes a square arcsecond. */
static void set_contrast(double contrast)
{
    plan_it();
    table[0].magnitude = item.sky_mag + contrast -
                         2.5 * log10(PI / 4 * table[0].major_arcmin * table[0].minor_arcmin * 3600);
}

static bool light_is(double contrast, const char *word)
{
    set_contrast(contrast);
    return has_reason(word);
}

START_TEST(words_for_light)
{
    ck_assert(light_is(1.9, "very bright"));
    ck_assert(light_is(2.1, "bright"));
    ck_assert(light_is(3.1, "bright"));
    ck_assert(!light_is(3.42, "bright"));
    ck_assert(!light_is(4.2, "faint"));
    ck_assert(light_is(4.4, "faint"));
}
END_TEST

/* So large that at this contrast it is of that magnitude. */
static bool showpiece(double magnitude, double contrast)
{
    plan_it();
    double area = pow(10, 0.4 * (item.sky_mag + contrast - magnitude)) / 3600;
    set_size(sqrt(area * 4 / PI));
    table[0].magnitude = magnitude;
    return has_reason("bright");
}

START_TEST(showpieces_are_bright_though_they_are_thin)
{
    ck_assert(showpiece(4.8, 3.6));
    ck_assert(!showpiece(5.2, 3.6));
    ck_assert(showpiece(4.5, 3.85));
    ck_assert(!showpiece(4.5, 4.15));
    table[0].type = OBJECT_OPEN_CLUSTER;
    table[0].magnitude = 4.8;
    ck_assert(has_reason("bright stars"));
    table[0].magnitude = 5.2;
    ck_assert(has_reason("stars"));
}
END_TEST

static bool size_is(double share, const char *word)
{
    set_size(share * HEIGHT_ARCMIN);
    plan_it();
    return strstr(item.reason, word) != NULL;
}

START_TEST(words_for_size)
{
    ck_assert(size_is(0.0095, "tiny in this lens"));
    ck_assert(!size_is(0.0105, "tiny in this lens"));
    ck_assert(size_is(0.057, "small: "));
    ck_assert(!size_is(0.063, "small: "));
}
END_TEST

/* The altitude at which a word comes or goes as targets stand farther north. */
static double altitude_of_change(const char *word)
{
    double before_deg = 0;
    bool first = true, had = false;
    for (table[0].dec_deg = -8;; table[0].dec_deg += 0.2) {
        bool now = has_reason(word);
        if (!first && now != had) {
            return (before_deg + item.window.best_altitude_deg) / 2;
        }
        ck_assert(table[0].dec_deg < 40);
        before_deg = item.window.best_altitude_deg;
        had = now;
        first = false;
    }
}

START_TEST(words_for_altitude)
{
    assert_near(altitude_of_change("low"), 30 + 8, 0.3, "deg");
    assert_near(altitude_of_change("high"), 55, 0.3, "deg");
}
END_TEST

static bool names_moon(void)
{
    return strstr(plan_it(), "Moon ") != NULL;
}

/* Over the sky of a Moon that is half lit, and of a thin one whose glare alone counts. */
START_TEST(words_for_the_moon)
{
    int less = 0, more = 0, near = 0, far = 0;
    for (int day = 22; day <= 26; day += 4) {
        set_night(1, day);
        for (double ra = 0; ra < 360; ra += 5) {
            for (double dec = -10; dec < 40; dec += 10) {
                table[0].ra_deg = ra;
                table[0].dec_deg = dec;
                bool named = names_moon();
                double brighter = 19.2 - item.sky_mag, apart = item.moon_separation_deg;
                if (item.moon_altitude_deg <= 0) {
                    continue;
                }
                if (apart > 30 && fabs(brighter - 0.5) < 0.08) {
                    ck_assert(named == (brighter > 0.5));
                    *(named ? &more : &less) += 1;
                }
                if (brighter < 0.4 && fabs(apart - 22.5) < 1.3) { /* a quarter of 30 degrees */
                    ck_assert(named == (apart < 22.5));
                    *(named ? &near : &far) += 1;
                }
            }
        }
    }
    ck_assert(less > 0 && more > 0 && near > 0 && far > 0);
}
END_TEST

static bool warns_of_zenith(double highest_deg)
{
    char text[200];
    const struct plan_sheet sheet = {.settings = &settings, .night = &night, .item = &item};
    plan_it();
    item.highest_deg = highest_deg;
    plan_write_zenith(text, sizeof text, &sheet);
    return text[0] != '\0';
}

/* From there on a degree takes four of pan. */
START_TEST(words_for_the_zenith)
{
    ck_assert(!warns_of_zenith(74));
    ck_assert(warns_of_zenith(76));
}
END_TEST

/* Whether the second object is worth a place of its own in a plan. */
static bool is_planned(double size_share, double magnitude)
{
    struct error err = {0};
    struct plan plan = {0};
    bool found = false;
    table[1] = table[0];
    table[1].ra_deg = 130;
    table[1].major_arcmin = table[1].minor_arcmin = size_share * HEIGHT_ARCMIN;
    table[1].magnitude = magnitude;
    ck_assert_int_eq(plan_make(&plan, &objects, &night, &settings, 10, &err), 0);
    for (int i = 0; i < plan.count; i++) {
        found = found || plan.item[i].member[0].object == &table[1];
    }
    plan_free(&plan);
    return found;
}

START_TEST(candidates_are_a_hundredth_of_the_height_and_of_magnitude_12)
{
    ck_assert(!is_planned(0.0095, 8));
    ck_assert(is_planned(0.0105, 8));
    ck_assert(is_planned(0.1, 11.5));
    ck_assert(!is_planned(0.1, 12.5));
}
END_TEST

/* Whether the second object comes into the first one's picture, which it follows by so many
 * degrees. */
static bool joins(double apart_deg)
{
    table[1].dec_deg = table[0].dec_deg;
    table[1].ra_deg = table[0].ra_deg + apart_deg / cos(table[0].dec_deg * RAD_PER_DEG);
    plan_it();
    return item.members == 2;
}

static bool joins_as(const char *id, const char *name, double size_arcmin)
{
    table[1].id = id;
    table[1].common_names = name;
    table[1].major_arcmin = table[1].minor_arcmin = size_arcmin;
    return joins(1.5);
}

static bool galaxy_joins(double magnitude)
{
    table[1].type = OBJECT_GALAXY;
    table[1].magnitude = magnitude;
    return joins(1.5);
}

START_TEST(neighbours_are_known_large_and_bright_enough)
{
    ck_assert(joins_as("Sh2-400", "Made-up Nebula", 10));
    ck_assert(!joins_as("vdB 400", "Made-up Nebula", 10));
    ck_assert(!joins_as("M 201", "", 0.0115 * HEIGHT_ARCMIN));
    ck_assert(joins_as("M 201", "", 0.0125 * HEIGHT_ARCMIN));
    ck_assert(joins_as("M 201", "", 10));
    ck_assert(galaxy_joins(10.5));
    ck_assert(!galaxy_joins(11.5));
}
END_TEST

START_TEST(neighbours_are_within_eight_degrees)
{
    settings.camera.focal_mm = 50;
    ck_assert(joins(7.7));
    ck_assert(!joins(8.3));
}
END_TEST

/* Above the first object, so far that only an upright camera holds both. */
static bool turns_for(const char *id)
{
    double up;
    plan_it();
    ck_assert_int_eq(item.fit.hold, GROUP_LANDSCAPE);
    up = item.fit.up_deg;
    radec_offset(&table[1].ra_deg, &table[1].dec_deg, table[0].ra_deg, table[0].dec_deg, up, 3.2);
    table[1].id = id;
    table[1].common_names = "Made-up Nebula";
    plan_it();
    return item.members == 2 && item.fit.hold == GROUP_PORTRAIT;
}

START_TEST(the_camera_is_turned_for_what_is_well_known)
{
    set_size(10);
    table[1].major_arcmin = table[1].minor_arcmin = 10;
    ck_assert(turns_for("NGC 9000"));
    table[1].dec_deg = -80;
    ck_assert(!turns_for("IC 9000"));
}
END_TEST

/* The largest share of the frame that a second object, farther and farther off, fills with the
 * first. */
START_TEST(a_frame_is_filled_to_78_percent)
{
    double fill = 0;
    set_size(10);
    table[1].major_arcmin = table[1].minor_arcmin = 10;
    for (double apart = 2; joins(apart); apart += 0.02) {
        fill = item.fit.fill;
    }
    assert_near(fill, 0.78, 0.01, "of the frame");
}
END_TEST

static bool fits(double share)
{
    set_size(share * HEIGHT_ARCMIN);
    plan_it();
    return item.fit.fits && item.fit.hold == GROUP_LANDSCAPE;
}

START_TEST(two_percent_of_the_frame_stay_free_on_each_side)
{
    ck_assert(fits(1 - 2 * 0.0225));
    ck_assert(!fits(1 - 2 * 0.0175));
}
END_TEST

/* Seconds in which the sky drifts by a share of the picture's width. */
static double drift_s(double share)
{
    return share * 5.0851 * 3600 / (15.041 * cos(table[0].dec_deg * RAD_PER_DEG)) /
           fabs(cos(item.fit.up_deg * RAD_PER_DEG));
}

START_TEST(a_batch_drifts_by_a_quarter_of_the_width)
{
    table[0].dec_deg = 0;
    plan_it();
    ck_assert_int_eq(item.shots.batch.limit, BATCH_BY_ROOM);
    assert_near(item.shots.batch.span_s, drift_s(0.25), 5, "s");
    /* Of a target that takes all of it, by a twentieth. */
    table[0].angle_deg = 90;
    do {
        table[0].major_arcmin += 0.5;
        plan_it();
    } while (item.fit.across_deg < 0.96 * 5.0851);
    ck_assert(item.fit.fits);
    assert_near(item.shots.batch.span_s, drift_s(0.05), 4, "s");
    table[0].dec_deg = 89.9;
    set_size(10);
    plan_it();
    ck_assert_int_eq(item.shots.batch.limit, BATCH_BY_HOUR);
    assert_near(item.shots.batch.span_s, 3600, 3, "s");
}
END_TEST

/* Common practice, no source: 500 seconds over the focal length; a trail of 3 px is fine. */
START_TEST(rules_for_exposures)
{
    plan_it();
    assert_near(item.shots.rule[PLAN_RULE_500].exposure_s, 2, 1e-9, "s");
    assert_near(item.shots.rule[PLAN_RULE_300].exposure_s, 1, 1e-9, "s");    /* of 1.2 */
    assert_near(item.shots.rule[PLAN_RULE_FINE].exposure_s, 0.6, 1e-9, "s"); /* of 0.62 */
    assert_near(trail_seconds_of_px(3, 3.05, 90), 3600, 0, "s");
    /* Farther north the sky is slower: 3 px of trail take 0.77 s, too little for the dial's 0.8. */
    table[0].dec_deg = 38;
    plan_it();
    assert_near(item.shots.rule[PLAN_RULE_FINE].exposure_s, 0.6, 1e-9, "s");
}
END_TEST

/* A star of V 0 sends 8.8e5 photons a second through a square centimetre (handbook value, from
 * memory); nebulae that are photographed are of 22.5 mag/arcsec2, to a magnitude (common practice,
 * no source). */
START_TEST(light_of_stars_and_nebulae)
{
    double mag, sigma;
    struct object object = table[0];
    assert_near(signal_zero_mag(250, 4, 0.1), 2.5 * log10(8.8e4 * PI / 4 * 6.25 * 6.25), 0.01,
                "mag");
    object.magnitude = NAN;
    ck_assert(signal_surface(&mag, &sigma, &object));
    assert_near(mag, 22.5, 1e-9, "mag/arcsec2");
    assert_near(sigma, 1, 1e-9, "mag");
    object.magnitude = 7;
    ck_assert(signal_surface(&mag, &sigma, &object));
    assert_near(sigma, 0.4, 1e-9, "mag"); /* the edge of its outline is a matter of taste */
    object.magnitude_error = 0.3;
    ck_assert(signal_surface(&mag, &sigma, &object));
    assert_near(sigma, 0.5, 1e-9, "mag");
    object.magnitude_error = NAN;
    ck_assert(signal_surface(&mag, &sigma, &object));
    assert_near(sigma, sqrt(1.16), 1e-9, "mag");
}
END_TEST

/* Krisciunas & Schaefer 1991, PASP 103, 1033, eq. 3, 15, 20, 21 (from memory), for a full Moon at
 * the zenith, a place 60 degrees away from it and 30 high, and 0.25 mag of extinction. */
START_TEST(a_suburb_takes_a_quarter_of_a_magnitude_of_moonlight)
{
    const double k = 0.25, away = 60, air = 1 / sqrt(1 - 0.96 * 0.75);
    double scattered = pow(10, 5.36) * (1.06 + 0.25) + pow(10, 6.15 - away / 40);
    double moon =
        pow(10, -0.4 * 3.84) * scattered * pow(10, -0.4 * k) * (1 - pow(10, -0.4 * k * air));
    double dark = 34.08 * exp(20.7233 - 0.92104 * 21);
    assert_near(signal_moonlit_mag(21, 1, 90, 30, away), 21 - 2.5 * log10(1 + moon / dark), 0.01,
                "mag/arcsec2");
}
END_TEST

static const char *instead_of(double frames_wanted)
{
    static char text[240];
    struct signal_outlook outlook = {.frame = {20, 2, 100, 18, 0}, .surface_mag = 24};
    signal_foresee(&outlook);
    outlook.wanted = outlook.signal.once * sqrt(frames_wanted);
    signal_foresee(&outlook);
    signal_write_instead(text, sizeof text, &outlook);
    return text;
}

static bool is_guessed(double sigma_mag)
{
    char text[240];
    struct signal_outlook outlook = {
        .frame = {20, 2, 100, 18, 0}, .surface_mag = 24, .sigma_mag = sigma_mag, .wanted = 5};
    signal_foresee(&outlook);
    signal_write_wanted(text, sizeof text, &outlook);
    return strstr(text, "a typical one is assumed") != NULL;
}

START_TEST(words_for_signal)
{
    ck_assert_str_eq(instead_of(9), "");
    ck_assert_str_ne(instead_of(11), "");
    ck_assert_str_eq(instead_of(627),
                     "instead of 630 frames: 310 of twice the exposure, 310 with a lens one stop "
                     "faster, 250 under a sky 1 mag darker");
    ck_assert(!is_guessed(0.75));
    ck_assert(is_guessed(0.85));
}
END_TEST

/* How many parts of the Milky Way are proposed in a midsummer night with a field so wide; *arch:
 * what is said of it. */
static int milky_parts(struct plan_arch *arch, double width_deg, double latitude_deg)
{
    static struct plan plan;
    const struct place place = {.latitude_deg = latitude_deg, .longitude_deg = 10};
    struct error err = {0};
    int parts = 0;
    ck_assert(darkness_find(&night, &place, 2026, 6, 14, NAN, DARKNESS_ASTRONOMICAL));
    settings.camera.focal_mm = 11.1 / tan(width_deg / 2 * RAD_PER_DEG);
    ck_assert_int_eq(plan_make(&plan, &objects, &night, &settings, 20, &err), 0);
    for (int i = 0; i < plan.count; i++) {
        parts += strncmp(plan.item[i].member[0].object->id, "Milky Way", 9) == 0;
    }
    *arch = plan.arch;
    plan_free(&plan);
    return parts;
}

START_TEST(fields_above_forty_degrees_get_the_milky_way)
{
    struct plan_arch arch;
    ck_assert_int_eq(milky_parts(&arch, 39, 40), 0);
    ck_assert(!arch.any);
    ck_assert_int_gt(milky_parts(&arch, 41, 40), 2);
    ck_assert(arch.any);
}
END_TEST

/* Its centre, 28.94 degrees south, culminates at 10.6 and at 9.6 degrees. */
START_TEST(the_centre_of_the_milky_way_counts_from_ten_degrees)
{
    struct plan_arch arch;
    char text[300];
    milky_parts(&arch, 60, 50.5);
    ck_assert(arch.centre.span.any);
    plan_write_arch(text, sizeof text, &arch, 60);
    ck_assert_msg(strncmp(text, "its centre is 10° or higher ", 28) == 0, "%s", text);
    milky_parts(&arch, 60, 51.5);
    ck_assert(!arch.centre.span.any);
    plan_write_arch(text, sizeof text, &arch, 60);
    ck_assert_msg(strncmp(text, "its centre does not get 10° high", 32) == 0, "%s", text);
}
END_TEST

/* Of all points of the galactic equator, looked at one by one. */
START_TEST(the_apex_of_the_arch_is_its_highest_point)
{
    struct plan_arch arch;
    double highest = -90, where = 0;
    milky_parts(&arch, 60, 45);
    for (int i = 0; i < 3600; i++) {
        double ra, dec, azimuth, altitude;
        eraG2icrs(i / 10.0 * RAD_PER_DEG, 0, &ra, &dec);
        ck_assert(horizon_from_radec(&azimuth, &altitude, &night.place, arch.centre.best,
                                     ra * DEG_PER_RAD, dec * DEG_PER_RAD));
        where = altitude > highest ? azimuth : where;
        highest = fmax(highest, altitude);
    }
    assert_near(arch.apex_deg, highest, 0.01, "deg");
    assert_near(angle_wrap_180(arch.apex_azimuth_deg - where), 0, 0.5, "deg");
}
END_TEST

Suite *plan_thresholds_suite(void)
{
    Suite *suite = suite_create("plan thresholds");
    TCase *tests = tcase_create("plan");
    tcase_add_checked_fixture(tests, start, NULL);
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, words_for_light);
    tcase_add_test(tests, showpieces_are_bright_though_they_are_thin);
    tcase_add_test(tests, words_for_size);
    tcase_add_test(tests, words_for_altitude);
    tcase_add_test(tests, words_for_the_zenith);
    tcase_add_test(tests, candidates_are_a_hundredth_of_the_height_and_of_magnitude_12);
    tcase_add_test(tests, neighbours_are_known_large_and_bright_enough);
    tcase_add_test(tests, neighbours_are_within_eight_degrees);
    tcase_add_test(tests, the_camera_is_turned_for_what_is_well_known);
    tcase_add_test(tests, a_frame_is_filled_to_78_percent);
    tcase_add_test(tests, two_percent_of_the_frame_stay_free_on_each_side);
    tcase_add_test(tests, a_batch_drifts_by_a_quarter_of_the_width);
    tcase_add_test(tests, rules_for_exposures);
    tcase_add_test(tests, words_for_the_moon);
    tcase_add_test(tests, fields_above_forty_degrees_get_the_milky_way);
    tcase_add_test(tests, the_centre_of_the_milky_way_counts_from_ten_degrees);
    tcase_add_test(tests, the_apex_of_the_arch_is_its_highest_point);
    suite_add_tcase(suite, tests);
    TCase *light = tcase_create("signal");
    tcase_add_checked_fixture(light, start, NULL);
    tcase_add_test(light, light_of_stars_and_nebulae);
    tcase_add_test(light, a_suburb_takes_a_quarter_of_a_magnitude_of_moonlight);
    tcase_add_test(light, words_for_signal);
    suite_add_tcase(suite, light);
    return suite;
}
