#include "base/parallel.h"
#include "base/random.h"
#include "base/units.h"
#include "near.h"
#include "stars/blur.h"
#include "stars/profile.h"
#include "stars/smooth.h"
#include "stars/stars.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

Suite *stars_suite(void);

#define SKY 800.0
#define NOISE 8.0

/* A frame around an unbinned plane of even sky; free with frame_of_sky_free. */
static struct frame frame_of_sky(int width, int height, double sky)
{
    struct frame f = {0};
    f.width = f.luminance.width = width;
    f.height = f.luminance.height = height;
    f.luminance.bin = 1;
    f.luminance.full = 16383;
    f.luminance.value = malloc((size_t)width * (size_t)height * sizeof *f.luminance.value);
    ck_assert_ptr_nonnull(f.luminance.value);
    for (int i = 0; i < width * height; i++) {
        f.luminance.value[i] = (float)sky;
    }
    return f;
}

static void frame_of_sky_free(struct frame *f)
{
    free(f->luminance.value);
}

static void add_noise(struct frame *f, struct random *r, double noise)
{
    for (int i = 0; i < f->luminance.width * f->luminance.height; i++) {
        f->luminance.value[i] += (float)(noise * random_normal(r));
    }
}

/* Part of a Gaussian's light in the pixel at distance d along one axis. */
static double pixel_share(double d, double sigma)
{
    return (erf((d + 0.5) / (sigma * sqrt(2))) - erf((d - 0.5) / (sigma * sqrt(2)))) / 2;
}

/* Light in pixel (dx, dy) from the middle of a unit star that moved evenly over length pixels. */
static double streak_share(double dx, double dy, double sigma, double length, double angle_deg)
{
    double c = cos(angle_deg * RAD_PER_DEG), s = sin(angle_deg * RAD_PER_DEG);
    double along = dx * c + dy * s, reach = 5 * sigma + 1, sum = 0;
    int steps = (int)(6 * length) + 1;
    for (int k = 0; k < steps; k++) {
        double t = ((k + 0.5) / steps - 0.5) * length;
        if (fabs(t - along) < reach) {
            sum += pixel_share(dx - t * c, sigma) * pixel_share(dy - t * s, sigma);
        }
    }
    return sum / steps;
}

/* (x, y) is the middle of the trail. */
static void add_streak(struct frame *f, double x, double y, double flux, double sigma,
                       double length, double angle_deg)
{
    double reach = 5 * sigma + length / 2 + 1;
    double c = cos(angle_deg * RAD_PER_DEG), s = sin(angle_deg * RAD_PER_DEG);
    for (int j = (int)(y - reach); j <= y + reach; j++) {
        for (int i = (int)(x - reach); i <= x + reach; i++) {
            bool inside = i >= 0 && j >= 0 && i < f->luminance.width && j < f->luminance.height;
            if (inside && fabs((j - y) * c - (i - x) * s) < 5 * sigma + 1) {
                f->luminance.value[j * f->luminance.width + i] +=
                    (float)(flux * streak_share(i - x, j - y, sigma, length, angle_deg));
            }
        }
    }
}

static void add_star(struct frame *f, double x, double y, double flux, double sigma)
{
    add_streak(f, x, y, flux, sigma, 0, 0);
}

static void cap(struct frame *f, float full)
{
    for (int i = 0; i < f->luminance.width * f->luminance.height; i++) {
        f->luminance.value[i] = fminf(f->luminance.value[i], full);
    }
}

static struct star_list detect(const struct frame *f, enum detect_recipe recipe)
{
    struct star_list list;
    struct error err = {0};
    struct detect_options options = {.recipe = recipe};
    ck_assert_int_eq(stars_detect(&list, f, &options, &err), 0);
    for (int i = 0; i < list.count; i++) {
        const struct star *s = &list.star[i];
        ck_assert(isfinite(s->x) && isfinite(s->y) && s->flux > 0 && s->peak > 0 && s->size > 0 &&
                  s->elongation >= 1 && s->snr > 0);
        ck_assert(i == 0 || s->flux <= list.star[i - 1].flux);
    }
    return list;
}

/* The listed star nearest to (x, y), NULL if none within 2 pixels. */
static const struct star *star_near(const struct star_list *list, double x, double y)
{
    const struct star *best = NULL;
    double least = 2;
    for (int i = 0; i < list->count; i++) {
        double d = hypot(list->star[i].x - x, list->star[i].y - y);
        if (d < least) {
            least = d;
            best = &list->star[i];
        }
    }
    return best;
}

enum { COLUMNS = 8, ROWS = 6, STARS = COLUMNS * ROWS, WIDTH = 640, HEIGHT = 480 };

/* Noise that is taken for stars in such a frame: 36 in a million pixels (stars.h) are 11, and
 * three deviations more. */
enum { FALSE_ONES = 21 };

/* Forty-eight stars on a jittered grid, fluxes falling by 7 % a star from 60000. */
struct field {
    double x[STARS], y[STARS], flux[STARS];
};

static struct field make_field(struct random *r)
{
    struct field field;
    for (int i = 0; i < STARS; i++) {
        field.x[i] = 40 + 80 * (i % COLUMNS) + random_between(r, -20, 20);
        field.y[i] = 40 + 80 * (i / COLUMNS) + random_between(r, -20, 20);
        field.flux[i] = 60000 * pow(0.93, i);
    }
    return field;
}

/* Sky noise alone would allow sigma * noise * sqrt(8 pi) * sigma / flux on each axis (Mendez, Silva
 * & Lobos 2013, PASP 125, 580, eq. 45 for a well-sampled Gaussian); five times it, and a hundredth
 * of a pixel for the pixels' own width. */
static double centroid_bound(double sigma, double flux)
{
    return 5 * sigma * sigma * NOISE * sqrt(8 * PI) / flux + 0.01;
}

START_TEST(test_centroid_and_flux)
{
    const double sigma = 1.1;
    struct random r = {7};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], field.flux[i], sigma);
    }
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    assert_near(list.sky, SKY, 1, "sky");
    assert_near(list.sky_noise, NOISE, 0.15 * NOISE, "a pixel's noise");
    for (int i = 0; i < STARS; i++) {
        const struct star *s = star_near(&list, field.x[i], field.y[i]);
        ck_assert_msg(s != NULL, "star %d of flux %.0f is missing", i, field.flux[i]);
        assert_near(s->x, field.x[i], centroid_bound(sigma, field.flux[i]), "px");
        assert_near(s->y, field.y[i], centroid_bound(sigma, field.flux[i]), "px");
        /* 5 % for light beyond the isophote, and five times a fit's noise. */
        double noise = NOISE * sqrt(4 * PI) * sigma;
        assert_near(s->flux, field.flux[i], 0.05 * field.flux[i] + 5 * noise, "flux");
        assert_near(s->snr, field.flux[i] / noise, 0.2 * field.flux[i] / noise + 3, "snr");
        ck_assert(!s->saturated);
        if (i < STARS / 2) {
            ck_assert_double_lt(s->elongation, 1.2);
            assert_near(s->size, sigma, 0.2 * sigma, "px");
        }
    }
    ck_assert_int_le(list.count, STARS + FALSE_ONES);
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* The order is what the matcher lives on: fluxes 7 % apart, noise below 3 %. */
START_TEST(test_order)
{
    struct random r = {8};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], 3 * field.flux[i], 1.3);
    }
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    ck_assert_int_ge(list.count, STARS);
    for (int i = 0; i < 30; i++) {
        int best = 0;
        for (int k = 0; k < STARS; k++) {
            if (hypot(list.star[i].x - field.x[k], list.star[i].y - field.y[k]) < 2) {
                best = k;
            }
        }
        ck_assert_int_le(abs(best - i), 1);
    }
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* _i: the trail's direction, in steps of 30 degrees. */
START_TEST(test_streak)
{
    const double length = 8, sigma = 0.9, angle = -60 + 30 * _i;
    struct random r = {(uint64_t)(20 + _i)};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_streak(&f, field.x[i], field.y[i], field.flux[i], sigma, length, angle);
    }
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    double along = sqrt(sigma * sigma + length * length / 12);
    for (int i = 0; i < 30; i++) {
        const struct star *s = star_near(&list, field.x[i], field.y[i]);
        ck_assert_msg(s != NULL, "streak %d is missing", i);
        /* The middle of the trail, as well as a round star of its length would allow. */
        assert_near(s->x, field.x[i], centroid_bound(along, field.flux[i]), "px");
        assert_near(s->y, field.y[i], centroid_bound(along, field.flux[i]), "px");
        double off = remainder(s->angle_deg - angle, 180);
        assert_near(off, 0, 5, "deg");
        /* The isophote cuts both widths, the long one's ends less. */
        assert_near(s->elongation, along / sigma, 0.35 * along / sigma, "ratio");
    }
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

START_TEST(test_blur)
{
    struct random r = {30};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_streak(&f, field.x[i], field.y[i], field.flux[i], 1.2, 6, 35);
    }
    add_noise(&f, &r, NOISE);
    struct profile p;
    ck_assert_int_eq(blur_measure(&p, &f.luminance, 1, NULL), 0);
    assert_near(profile_angle_deg(&p), 35, 3, "deg");
    double longer, shorter;
    profile_widths(&p, &longer, &shorter);
    /* Across: the star and the pixel. Along, a Gaussian fitted to a box is wider than its rms. */
    assert_near(shorter, sqrt(1.2 * 1.2 + 1 / 12.0), 0.1, "px");
    ck_assert_double_gt(longer, sqrt(1.2 * 1.2 + 3));
    ck_assert_double_lt(longer, 1.4 * sqrt(1.2 * 1.2 + 3));
    frame_of_sky_free(&f);
}
END_TEST

/* Nothing but noise: as many false stars as stars.h says, less what looks like hot pixels. The
 * filter is that of a frame without stars, 1.2 pixels squared. */
START_TEST(test_noise)
{
    enum { WIDE = 2000, HIGH = 1500 };
    const double u = 3.95;
    double expected = WIDE * HIGH * pow(2 * PI, -1.5) * u * exp(-u * u / 2) / (2 * 1.2);
    struct random r = {35};
    struct frame f = frame_of_sky(WIDE, HIGH, SKY);
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    assert_near(list.sky_noise, NOISE, 0.05 * NOISE, "a pixel's noise");
    ck_assert_double_gt(list.count, 0.5 * expected);
    ck_assert_double_lt(list.count, 1.2 * expected);
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* A quarter of the pixels' noise lies in a faint star's peak: only the filter finds it. */
START_TEST(test_faint)
{
    const double sigma = 1.2, noise = NOISE * sqrt(4 * PI) * sigma;
    struct random r = {40};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    int found = 0;
    for (int i = 0; i < STARS; i++) {
        double flux = i < 8 ? 60000 : 7 * noise; /* a few bright ones to tell the blur */
        add_star(&f, field.x[i], field.y[i], flux, sigma);
    }
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    for (int i = 8; i < STARS; i++) {
        found += star_near(&list, field.x[i], field.y[i]) != NULL;
    }
    /* Each lies 3 sigma above the limit of 3.95, less what the filter's mismatch and the hot
     * pixel test cost: one or two of 40 may be lost. */
    ck_assert_int_ge(found, 38);
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

START_TEST(test_hot_pixels)
{
    struct random r = {50};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], field.flux[i], 0.9);
    }
    add_noise(&f, &r, NOISE);
    enum { HOT = 200 };
    int at[HOT];
    for (int i = 0; i < HOT;) {
        int x = (int)random_between(&r, 5, WIDTH - 5), y = (int)random_between(&r, 5, HEIGHT - 5);
        bool alone = true;
        for (int k = 0; k < STARS; k++) {
            alone = alone && hypot(x - field.x[k], y - field.y[k]) > 6;
        }
        if (alone) {
            at[i++] = y * WIDTH + x;
            f.luminance.value[y * WIDTH + x] += (float)random_between(&r, 100, 15000);
        }
    }
    struct star_list list = detect(&f, DETECT_PLAIN);
    int kept = 0;
    for (int i = 0; i < HOT; i++) {
        kept += star_near(&list, at[i] % WIDTH, at[i] / WIDTH) != NULL;
    }
    /* A pair of neighbours looks like a star; 200 among 307200 pixels make one pair or two. */
    ck_assert_int_le(kept, 4);
    for (int i = 0; i < 30; i++) {
        ck_assert_ptr_nonnull(star_near(&list, field.x[i], field.y[i]));
    }
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* Moon glow across, fall-off towards the corners, and a faint star everywhere. */
START_TEST(test_gradient)
{
    struct random r = {60};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, 0);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], 6000, 1.1);
    }
    for (int y = 0; y < HEIGHT; y++) {
        for (int x = 0; x < WIDTH; x++) {
            double u = (x - WIDTH / 2.0) / WIDTH, v = (y - HEIGHT / 2.0) / WIDTH;
            f.luminance.value[y * WIDTH + x] += (float)(3000 * (1 + u) * (1 - u * u - v * v));
        }
    }
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    for (int i = 0; i < STARS; i++) {
        const struct star *s = star_near(&list, field.x[i], field.y[i]);
        ck_assert_msg(s != NULL, "star %d is missing", i);
        assert_near(s->flux, 6000, 0.15 * 6000, "flux");
    }
    ck_assert_int_le(list.count, STARS + FALSE_ONES);
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

START_TEST(test_gaps)
{
    struct random r = {70};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], field.flux[i], 1.1);
    }
    add_noise(&f, &r, NOISE);
    for (int y = 0; y < HEIGHT; y++) {
        for (int x = 0; x < WIDTH; x++) {
            if (x + y < 200) {
                f.luminance.value[y * WIDTH + x] = NAN;
            }
        }
    }
    f.luminance.value[300 * WIDTH + 300] = INFINITY;
    struct star_list list = detect(&f, DETECT_PLAIN);
    for (int i = 0; i < list.count; i++) {
        ck_assert_double_gt(list.star[i].x + list.star[i].y, 198);
    }
    for (int i = 0; i < STARS; i++) {
        if (field.x[i] + field.y[i] > 210) {
            ck_assert_ptr_nonnull(star_near(&list, field.x[i], field.y[i]));
        }
    }
    ck_assert_int_le(list.count, STARS + FALSE_ONES);
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* Flat tops keep their order by what they spill over, stay whole and in place. */
START_TEST(test_saturation)
{
    struct random r = {80};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        double flux = i < 5 ? 4e7 / pow(3, i) : field.flux[i];
        add_star(&f, field.x[i], field.y[i], flux, 1.3);
    }
    add_noise(&f, &r, NOISE);
    cap(&f, f.luminance.full);
    struct star_list list = detect(&f, DETECT_PLAIN);
    for (int i = 0; i < 5; i++) {
        assert_near(list.star[i].x, field.x[i], 0.15, "px");
        assert_near(list.star[i].y, field.y[i], 0.15, "px");
        ck_assert(list.star[i].saturated);
    }
    ck_assert(!list.star[6].saturated);
    ck_assert_int_le(list.count, STARS + FALSE_ONES);
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

START_TEST(test_close_pair)
{
    struct random r = {90};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], 50000, 1.1);
        add_star(&f, field.x[i] + 5, field.y[i] + 3, 20000, 1.1);
    }
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    for (int i = 0; i < STARS; i++) {
        const struct star *s = star_near(&list, field.x[i], field.y[i]);
        const struct star *t = star_near(&list, field.x[i] + 5, field.y[i] + 3);
        ck_assert(s && t && s != t);
        assert_near(s->x, field.x[i], 0.1, "px");
        assert_near(t->y, field.y[i] + 3, 0.3, "px");
    }
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* A satellite crosses, a nebula's soft knots lie about: neither is among the bright. */
START_TEST(test_lines_and_knots)
{
    struct random r = {100};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], 60000, 1.1);
        if (i % 5 == 0) {
            add_star(&f, field.x[i] + 38, field.y[i] + 38, 90000, 7);
        }
    }
    add_streak(&f, 320, 240, 7.5e6, 1.1, 300, 17);
    add_noise(&f, &r, NOISE);
    struct star_list list = detect(&f, DETECT_PLAIN);
    ck_assert_int_ge(list.count, 40);
    for (int i = 0; i < 40; i++) {
        bool real = false;
        for (int k = 0; k < STARS; k++) {
            real = real || hypot(list.star[i].x - field.x[k], list.star[i].y - field.y[k]) < 2;
        }
        ck_assert_msg(real, "number %d at %.1f %.1f is no star", i, list.star[i].x, list.star[i].y);
    }
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* Picture pixels: the centre of a bin of n begins (n - 1) / 2 pixels in. */
START_TEST(test_bin)
{
    struct frame f = frame_of_sky(100, 80, SKY);
    struct random r = {110};
    add_star(&f, 40, 30, 50000, 1.1);
    add_noise(&f, &r, NOISE);
    f.luminance.bin = 3;
    f.width = 302;
    f.height = 241;
    struct star_list list = detect(&f, DETECT_PLAIN);
    ck_assert_int_ge(list.count, 1);
    assert_near(list.star[0].x, 121, 0.1, "px");
    assert_near(list.star[0].y, 91, 0.1, "px");
    assert_near(list.star[0].size, 3.4, 0.5, "px");
    assert_near(list.width, 302, 0, "px");
    assert_near(list.height, 241, 0, "px");
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* Every recipe, on planes without stars, down to one pixel. */
START_TEST(test_nothing)
{
    static const int sides[][2] = {{1, 1},   {3, 3},   {10, 1},  {1, 10},  {11, 300},
                                   {12, 12}, {13, 40}, {64, 64}, {65, 31}, {300, 200}};
    for (size_t i = 0; i < sizeof sides / sizeof *sides; i++) {
        for (int recipe = 0; recipe < DETECT_RECIPES; recipe++) {
            float levels[] = {0, 16383, NAN, INFINITY, -1e30F};
            for (size_t k = 0; k < sizeof levels / sizeof *levels; k++) {
                struct frame f = frame_of_sky(sides[i][0], sides[i][1], 0);
                for (int at = 0; at < sides[i][0] * sides[i][1]; at++) {
                    f.luminance.value[at] = levels[k];
                }
                f.luminance.full = k % 2 ? levels[k] : 0;
                struct star_list list = detect(&f, (enum detect_recipe)recipe);
                ck_assert_int_eq(list.count, 0);
                star_list_free(&list);
                frame_of_sky_free(&f);
            }
        }
    }
    struct frame empty = {0};
    struct star_list list = detect(&empty, DETECT_PLAIN);
    ck_assert_int_eq(list.count, 0);
    star_list_free(&list);
    star_list_free(&list);
}
END_TEST

/* One bright pixel, edge to edge stars, a star cut by the corner: no crash, no star from nothing.
 */
START_TEST(test_edges)
{
    struct frame f = frame_of_sky(64, 48, SKY);
    f.luminance.value[0] = 16000;
    struct star_list list = detect(&f, DETECT_FINE_MESH);
    ck_assert_int_eq(list.count, 0);
    star_list_free(&list);
    struct random r = {120};
    add_noise(&f, &r, NOISE);
    add_star(&f, 0, 0, 90000, 1.2);
    add_star(&f, 63, 20, 90000, 1.2);
    add_star(&f, 30, 47.4, 90000, 1.2);
    list = detect(&f, DETECT_FINE_MESH);
    ck_assert_int_le(list.count, 8);
    star_list_free(&list);
    frame_of_sky_free(&f);
}
END_TEST

/* Pictures that are all texture: the time is bounded by about that of a sky. */
START_TEST(test_explosion)
{
    enum { SIDE = 500 };
    struct random r = {130};
    for (int kind = 0; kind < 4; kind++) {
        struct frame f = frame_of_sky(SIDE, SIDE, 0);
        f.luminance.full = 255;
        for (int i = 0; i < SIDE * SIDE; i++) {
            double u = random_uniform(&r);
            double value[] = {255 * u, u < 0.05 ? 255 : 0, 20 + 3 * tan(PI * (u - 0.5)),
                              (i / SIDE / 3 + i % SIDE / 3) % 2 ? 255 : 0};
            f.luminance.value[i] = (float)value[kind];
        }
        clock_t start = clock();
        struct star_list list = detect(&f, DETECT_PLAIN);
        /* Measured up to 0.1 s; sanitizers cost twenty times that. */
        ck_assert_double_lt((double)(clock() - start) / CLOCKS_PER_SEC, 20);
        ck_assert_int_le(list.count, 4000);
        star_list_free(&list);
        frame_of_sky_free(&f);
    }
}
END_TEST

/* Any bits that a float can be: no crash, and nothing listed that is not finite (detect looks). */
START_TEST(test_any_bits)
{
    static const int sides[][2] = {{64, 48}, {12, 700}, {700, 12}, {131, 67}};
    struct random r = {135};
    for (int n = 0; n < 40; n++) {
        const int *side = sides[n % 4];
        struct frame f = frame_of_sky(side[0], side[1], 0);
        f.luminance.full = n % 3 ? 0 : 16383;
        for (int i = 0; i < side[0] * side[1]; i++) {
            uint32_t bits = (uint32_t)random_bits(&r);
            /* All of them, or some among even values. */
            if (n % 2 == 0 || bits % 16 == 0) {
                memcpy(&f.luminance.value[i], &bits, sizeof bits);
            }
        }
        for (int recipe = 0; recipe < DETECT_RECIPES; recipe++) {
            struct star_list list;
            struct detect_options options = {.recipe = (enum detect_recipe)recipe};
            ck_assert_int_eq(stars_detect(&list, &f, &options, NULL), 0);
            ck_assert_int_le(list.count, 4000);
            for (int i = 0; i < list.count; i++) {
                ck_assert(isfinite(list.star[i].x) && isfinite(list.star[i].y));
            }
            star_list_free(&list);
        }
        frame_of_sky_free(&f);
    }
}
END_TEST

/* Two hundred thousand stars, one in twenty pixels, and stripes: four megapixels, a second. */
START_TEST(test_crowds)
{
    enum { WIDE = 2500, HIGH = 1600, MANY = 200000 };
    struct random r = {136};
    for (int kind = 0; kind < 2; kind++) {
        struct frame f = frame_of_sky(WIDE, HIGH, SKY);
        for (int i = 0; kind == 0 && i < MANY; i++) {
            double flux = 300 / (0.001 + random_uniform(&r));
            int x = (int)random_between(&r, 2, WIDE - 2), y = (int)random_between(&r, 2, HIGH - 2);
            for (int k = 0; k < 25; k++) {
                int dx = k % 5 - 2, dy = k / 5 - 2;
                f.luminance.value[(y + dy) * WIDE + x + dx] +=
                    (float)(flux / 6.3 * exp(-(dx * dx + dy * dy) / 2.0));
            }
        }
        for (int i = 0; kind == 1 && i < WIDE * HIGH; i++) {
            f.luminance.value[i] += (i % WIDE + i / WIDE) / 9 % 3 ? 0 : 3000;
        }
        add_noise(&f, &r, NOISE);
        clock_t start = clock();
        struct star_list list = detect(&f, DETECT_PLAIN);
        /* Measured 0.15 s; twenty times that with sanitizers. */
        ck_assert_double_lt((double)(clock() - start) / CLOCKS_PER_SEC, 10);
        ck_assert_int_eq(list.count, kind == 0 ? 4000 : list.count);
        star_list_free(&list);
        frame_of_sky_free(&f);
    }
}
END_TEST

/* The most memory that this process ever had, bytes. */
static double most_memory(void)
{
    struct rusage used;
    getrusage(RUSAGE_SELF, &used);
    return 1024.0 * (double)used.ru_maxrss;
}

enum large_kind { EMPTY_SKY, STARS_EVERYWHERE, ALL_EDGES, HALF_FULL, LARGE_KINDS };

static struct frame large_frame(int side, enum large_kind kind)
{
    struct random r = {137};
    struct frame f = frame_of_sky(side, side, SKY);
    size_t n = (size_t)side * (size_t)side;
    add_noise(&f, &r, NOISE);
    f.luminance.full = 16383;
    for (size_t i = 0; kind == STARS_EVERYWHERE && i < n / 30; i++) {
        size_t at =
            (size_t)(random_uniform(&r) * (double)(n - 4 * (size_t)side)) + 2 * (size_t)side;
        double flux = 300 / (0.001 + random_uniform(&r));
        for (int k = 0; k < 9; k++) {
            double share = (double[]){0.06, 0.12, 0.28}[(k % 2 == 0) + (k == 4)];
            size_t near = at + (size_t)(k % 3) - 1 + (size_t)(k / 3) * (size_t)side - (size_t)side;
            f.luminance.value[near] += (float)(share * flux);
        }
    }
    for (size_t i = 0; i < n; i++) {
        size_t x = i % (size_t)side, y = i / (size_t)side;
        bool edge = kind == ALL_EDGES && (x + y) / 9 % 3 == 0;
        f.luminance.value[i] += edge ? 3000 : 0;
        if (kind == HALF_FULL && (x / 40 + y / 40) % 2) {
            f.luminance.value[i] = 16383;
        }
    }
    return f;
}

/* Time and memory that the header allows, whatever the plane shows: the same for each pixel of one
 * four times as large, and for each pixel more no more bytes than it says, beside the plane's. */
START_TEST(test_bounds)
{
    enum { SMALL = 1500, LARGE = 3000 };
    const double bytes = 4.6 + 0.08 * 40 + sizeof(float);
    const double pixels_more = (double)LARGE * LARGE - (double)SMALL * SMALL;
    for (int recipe = DETECT_PLAIN; recipe <= DETECT_FINE_MESH; recipe++) {
        double took[2], most[2];
        for (int large = 0; large < 2; large++) {
            int side = large ? LARGE : SMALL;
            struct frame f = large_frame(side, (enum large_kind)_i);
            clock_t start = clock();
            struct star_list list = detect(&f, (enum detect_recipe)recipe);
            took[large] = (double)(clock() - start) / CLOCKS_PER_SEC;
            most[large] = most_memory();
            star_list_free(&list);
            frame_of_sky_free(&f);
        }
#ifndef __SANITIZE_ADDRESS__
        ck_assert_double_lt(most[1] - most[0], bytes * pixels_more);
#else
        (void)pixels_more;
        (void)most;
        (void)bytes;
#endif
        /* Twice as much a pixel may be the machine; growth with the square would be four times. */
        ck_assert_double_lt(took[1], 4 * 2.5 * took[0] + 0.05);
    }
}
END_TEST

START_TEST(test_limit)
{
    struct random r = {140};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_star(&f, field.x[i], field.y[i], field.flux[i], 1.1);
    }
    add_noise(&f, &r, NOISE);
    struct star_list list;
    struct detect_options options = {.max_stars = 10};
    ck_assert_int_eq(stars_detect(&list, &f, &options, NULL), 0);
    ck_assert_int_eq(list.count, 10);
    assert_near(list.star[0].x, field.x[0], 0.05, "px");
    star_list_free(&list);
    /* No options means the usual ones, and the same frame gives the same list. */
    struct star_list again;
    ck_assert_int_eq(stars_detect(&list, &f, NULL, NULL), 0);
    ck_assert_int_eq(stars_detect(&again, &f, NULL, NULL), 0);
    ck_assert_int_eq(list.count, again.count);
    for (int i = 0; i < list.count; i++) {
        ck_assert(list.star[i].x == again.star[i].x && list.star[i].flux == again.star[i].flux);
    }
    star_list_free(&list);
    star_list_free(&again);
    frame_of_sky_free(&f);
}
END_TEST

struct job {
    struct frame frame;
    struct star_list list;
};

static void detect_job(int item, void *context)
{
    struct job *job = (struct job *)context + item;
    job->list = detect(&job->frame, DETECT_PLAIN);
}

/* Frames worked on side by side give what they give alone. */
START_TEST(test_threads)
{
    enum { JOBS = 8 };
    struct job jobs[JOBS];
    for (int k = 0; k < JOBS; k++) {
        struct random r = {(uint64_t)(200 + k)};
        struct field field = make_field(&r);
        jobs[k].frame = frame_of_sky(WIDTH, HEIGHT, SKY);
        for (int i = 0; i < STARS; i++) {
            add_streak(&jobs[k].frame, field.x[i], field.y[i], field.flux[i], 1, k, 10 * k);
        }
        add_noise(&jobs[k].frame, &r, NOISE);
    }
    parallel_each(JOBS, 4, detect_job, jobs);
    for (int k = 0; k < JOBS; k++) {
        struct star_list alone = detect(&jobs[k].frame, DETECT_PLAIN);
        ck_assert_int_ge(alone.count, STARS / 2);
        ck_assert_int_eq(alone.count, jobs[k].list.count);
        for (int i = 0; i < alone.count; i++) {
            const struct star *a = &alone.star[i], *b = &jobs[k].list.star[i];
            ck_assert(a->x == b->x && a->y == b->y && a->flux == b->flux && a->snr == b->snr);
        }
        star_list_free(&alone);
        star_list_free(&jobs[k].list);
        frame_of_sky_free(&jobs[k].frame);
    }
}
END_TEST

static void assert_same_list(const struct star_list *a, const struct star_list *b)
{
    ck_assert_int_eq(a->count, b->count);
    ck_assert_int_eq(a->raw_count, b->raw_count);
    ck_assert(a->sky >= b->sky && a->sky <= b->sky && a->sky_noise >= b->sky_noise &&
              a->sky_noise <= b->sky_noise);
    for (int i = 0; i < a->count; i++) {
        ck_assert_int_eq(a->star[i].saturated, b->star[i].saturated);
        ck_assert_mem_eq(&a->star[i], &b->star[i], offsetof(struct star, saturated));
    }
}

/* A field with a nebula, a bright star, a gap and hot pixels, that every recipe sees otherwise. */
static struct frame motley_frame(void)
{
    struct random r = {300};
    struct field field = make_field(&r);
    struct frame f = frame_of_sky(WIDTH, HEIGHT, SKY);
    for (int i = 0; i < STARS; i++) {
        add_streak(&f, field.x[i], field.y[i], 2 * field.flux[i], 0.7, 2, 30);
    }
    add_star(&f, 200, 200, 4e6, 25);
    add_star(&f, 500, 100, 3e6, 1.2);
    add_noise(&f, &r, NOISE);
    for (int i = 0; i < 300; i++) {
        int at = (int)random_between(&r, 0, WIDTH * HEIGHT);
        f.luminance.value[at] += (float)random_between(&r, 100, 3000);
    }
    for (int i = 0; i < 40 * WIDTH; i++) {
        f.luminance.value[i] = NAN;
    }
    return f;
}

/* One thread for one frame or several: the same bits, for every recipe. */
START_TEST(test_threads_of_a_frame)
{
    struct frame f = motley_frame();
    struct star_list alone, other;
    for (int recipe = 0; recipe < DETECT_RECIPES; recipe++) {
        struct detect_options options = {.recipe = (enum detect_recipe)recipe};
        ck_assert_int_eq(stars_detect(&alone, &f, &options, NULL), 0);
        ck_assert_int_gt(alone.count, STARS / 2);
        for (int threads = 2; threads <= 5; threads += 3) {
            options.threads = threads;
            ck_assert_int_eq(stars_detect(&other, &f, &options, NULL), 0);
            assert_same_list(&alone, &other);
            star_list_free(&other);
        }
        star_list_free(&alone);
    }
    frame_of_sky_free(&f);
}
END_TEST

/* A finder's later recipes find what they find alone, in any order, and lists do differ. */
START_TEST(test_finder)
{
    static const enum detect_recipe order[] = {DETECT_PLAIN, DETECT_FINE_MESH, DETECT_COARSE_MESH,
                                               DETECT_SHARP, DETECT_FINE_MESH, DETECT_PLAIN,
                                               DETECT_SHARP};
    struct frame f = motley_frame();
    struct star_finder finder = {0};
    int counts[DETECT_RECIPES] = {0};
    for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
        struct detect_options options = {.recipe = order[i]};
        struct star_list alone, list;
        ck_assert_int_eq(stars_detect(&alone, &f, &options, NULL), 0);
        ck_assert_int_eq(star_finder_list(&list, &finder, &f, &options, NULL), 0);
        assert_same_list(&alone, &list);
        counts[order[i]] = list.count;
        star_list_free(&alone);
        star_list_free(&list);
    }
    ck_assert_int_gt(counts[DETECT_SHARP], counts[DETECT_PLAIN] + 30); /* hot pixels */
    struct detect_options few = {.max_stars = 5};
    struct star_list list;
    ck_assert_int_eq(star_finder_list(&list, &finder, &f, &few, NULL), 0);
    ck_assert_int_eq(list.count, 5);
    star_list_free(&list);
    star_finder_free(&finder);
    star_finder_free(&finder);
    frame_of_sky_free(&f);
}
END_TEST

/* The filter's sum, place and moments on one bright pixel, for any direction, and the signal to
 * noise of a star behind it, over that behind a filter that is the star's very image (Schwarz's
 * inequality bounds it by 1). */
START_TEST(test_smooth)
{
    enum { SIDE = 81, MIDDLE = SIDE / 2 };
    static const struct profile profiles[] = {{1, 0, 1}, {6, 3, 2.5}, {2, -3, 8}, {12, 1, 0.6}};
    static float out[SIDE * SIDE];
    for (size_t k = 0; k < sizeof profiles / sizeof *profiles; k++) {
        struct frame f = frame_of_sky(SIDE, SIDE, 0);
        f.luminance.value[MIDDLE * SIDE + MIDDLE] = 1;
        float highest[SIDE * ((SIDE + SMOOTH_BLOCK - 1) / SMOOTH_BLOCK)];
        int blocks = smooth_blocks(SIDE);
        ck_assert_int_eq(smooth_plane(out, highest, &f.luminance, &profiles[k], 1, NULL), 0);
        for (int i = 0; i < SIDE * blocks; i++) {
            int from = i % blocks * SMOOTH_BLOCK, end = from + SMOOTH_BLOCK;
            float most = -INFINITY;
            for (int x = from; x < end && x < SIDE; x++) {
                most = fmaxf(most, out[i / blocks * SIDE + x]);
            }
            assert_near((double)highest[i], (double)most, 0, "of the block");
        }
        double sum = 0, xx = 0, xy = 0, yy = 0, star = 0, filter = 0, both = 0;
        for (int i = 0; i < SIDE * SIDE; i++) {
            double x = i % SIDE - MIDDLE, y = i / SIDE - MIDDLE, v = (double)out[i];
            sum += v;
            xx += v * x * x;
            xy += v * x * y;
            yy += v * y * y;
            double light = profile_value(&profiles[k], x, y);
            star += light * light;
            filter += v * v;
            both += light * v;
            assert_near(v, (double)out[SIDE * SIDE - 1 - i], 1e-7, "symmetry");
        }
        assert_near(sum, 1, 1e-4, "sum");
        ck_assert_double_gt(both / sqrt(star * filter), 0.996);
        /* Cut at 2.6 sigma it loses some of the spread, and the slanted rows' interpolation adds
         * up to a quarter of a pixel squared. */
        assert_near(xx, profiles[k].xx, 0.07 * profiles[k].xx + 0.25, "px^2");
        assert_near(xy, profiles[k].xy, 0.07 * fabs(profiles[k].xy) + 1e-6, "px^2");
        assert_near(yy, profiles[k].yy, 0.07 * profiles[k].yy, "px^2");
        frame_of_sky_free(&f);
    }
}
END_TEST

Suite *stars_suite(void)
{
    Suite *s = suite_create("stars");
    TCase *c = tcase_create("stars");
    tcase_set_timeout(c, 120);
    tcase_add_test(c, test_smooth);
    tcase_add_test(c, test_blur);
    tcase_add_test(c, test_centroid_and_flux);
    tcase_add_test(c, test_order);
    tcase_add_loop_test(c, test_streak, 0, 6);
    tcase_add_test(c, test_noise);
    tcase_add_test(c, test_faint);
    tcase_add_test(c, test_hot_pixels);
    tcase_add_test(c, test_gradient);
    tcase_add_test(c, test_gaps);
    tcase_add_test(c, test_saturation);
    tcase_add_test(c, test_close_pair);
    tcase_add_test(c, test_lines_and_knots);
    tcase_add_test(c, test_bin);
    tcase_add_test(c, test_nothing);
    tcase_add_test(c, test_edges);
    tcase_add_test(c, test_explosion);
    tcase_add_test(c, test_any_bits);
    tcase_add_test(c, test_crowds);
    tcase_add_loop_test(c, test_bounds, 0, LARGE_KINDS);
    tcase_add_test(c, test_limit);
    tcase_add_test(c, test_threads);
    tcase_add_test(c, test_threads_of_a_frame);
    tcase_add_test(c, test_finder);
    suite_add_tcase(s, c);
    return s;
}
