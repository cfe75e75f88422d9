/* The demo's sky, camera and renderer: what the tests of everything else lean on. */
#include "base/random.h"
#include "base/units.h"
#include "demo/model_stars.h"
#include "demo/render_brush.h"
#include "demo/render_write.h"
#include "image/frame.h"
#include "near.h"
#include "sky/vector.h"
#include "stamps.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

Suite *render_suite(void);

static struct starfield field;

static void load_field(void)
{
    struct error err = {0};
    ck_assert_msg(!starfield_load(&field, "catalogs/stars.tsv", 1, &err), "%s", err.text);
}

static void free_field(void)
{
    starfield_free(&field);
}

/* ---- starfield ---- */

START_TEST(test_counts)
{
    struct sky_view view = {0};
    const double v[3] = {0, 0, 1};
    struct error err = {0};
    for (double mag = 7; mag <= 9.5; mag += 0.5) {
        ck_assert(!starfield_look(&view, &field, v, 180, mag, &err));
        /* Poisson's noise, and listed stars a little above the smooth count in a belt. */
        double want = starfield_whole_sky(mag);
        assert_near(view.count, want, 0.02 * want, "stars");
    }
    sky_view_free(&view);
}
END_TEST

START_TEST(test_crowding)
{
    /* Averaged over the sky (even in |sin b|) it is 1; the plane is a few times the poles. */
    double sum = 0;
    for (int i = 0; i < 1000; i++) {
        sum += starfield_crowding(11, (i + 0.5) / 1000) / 1000;
    }
    assert_near(sum, 1, 1e-4, "times the mean");
    assert_near(starfield_crowding(11, 0) / starfield_crowding(11, 1), 3.5, 0.5, "ratio");
}
END_TEST

static bool same_star(const struct sky_star *a, const struct sky_star *b)
{
    return a->v[0] == b->v[0] && a->v[1] == b->v[1] && a->v[2] == b->v[2] && a->mag == b->mag;
}

/* Whatever a small, shallow look sees, a wider, deeper one from aside sees as well; and the other
 * way round where both look. */
START_TEST(test_looks_agree)
{
    struct sky_view small = {0}, wide = {0};
    struct error err = {0};
    const double place[4][2] = {{83, -5}, {0.1, 60}, {200, 89.5}, {359, -88}};
    for (int k = 0; k < 4; k++) {
        double v[3], w[3];
        vector_from_radec(v, place[k][0], place[k][1]);
        vector_from_radec(w, place[k][0] + 2, place[k][1] * 0.98);
        ck_assert(!starfield_look(&small, &field, v, 3, 9.205, &err));
        ck_assert(!starfield_look(&wide, &field, w, 9, 10.7, &err));
        int inside = 0;
        for (int i = 0; i < wide.count; i++) {
            inside += wide.star[i].mag < 9.205 && vector_angle_deg(wide.star[i].v, v) <= 3;
        }
        ck_assert_int_eq(inside, small.count);
        ck_assert_int_gt(small.count, 20);
        for (int i = 0; i < small.count; i++) {
            int found = 0;
            for (int j = 0; j < wide.count; j++) {
                found += same_star(&small.star[i], &wide.star[j]);
            }
            ck_assert_int_eq(found, 1);
        }
    }
    sky_view_free(&small);
    sky_view_free(&wide);
}
END_TEST

START_TEST(test_look_misses_nothing)
{
    struct sky_view all = {0}, view = {0};
    struct error err = {0};
    struct random random = {5};
    const double north[3] = {0, 0, 1};
    ck_assert(!starfield_look(&all, &field, north, 180, 7, &err));
    for (int k = 0; k < 60; k++) {
        double v[3], radius = k % 3 ? random_between(&random, 0.2, 30) : 30 + k;
        random_direction(&random, v);
        if (k % 7 == 0) { /* beside a pole */
            v[0] = 0.001 * k;
            v[1] = -0.002;
            v[2] = k % 2 ? 1 : -1;
            vector_normalise(v);
        }
        ck_assert(!starfield_look(&view, &field, v, radius, 7, &err));
        int want = 0;
        for (int i = 0; i < all.count; i++) {
            want += vector_dot(all.star[i].v, v) >= cos(radius * RAD_PER_DEG);
        }
        ck_assert_int_eq(view.count, want);
    }
    sky_view_free(&all);
    sky_view_free(&view);
}
END_TEST

START_TEST(test_bad_star_table)
{
    struct starfield none;
    struct error err = {0};
    ck_assert_int_eq(starfield_load(&none, "/nonexistent.tsv", 1, &err), ERROR_INPUT);
    ck_assert(strstr(err.text, "/nonexistent.tsv"));
    ck_assert_int_eq(starfield_load(&none, "catalogs/objects.tsv", 1, &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, "v_mag"), "%s", err.text);
    starfield_free(&none);
}
END_TEST

/* ---- lens ---- */

static const struct lens lenses[] = {
    {.scale_arcsec = 3, .width = 6000, .height = 4000},
    {.scale_arcsec = 30, .width = 6000, .height = 4000, .distortion = -0.06},
    {.scale_arcsec = 15, .width = 3000, .height = 2000, .distortion = 0.06, .mirrored = true},
    {.scale_arcsec = 60, .width = 4000, .height = 3000, .distortion = -0.03, .moustache = 0.02},
    {.scale_arcsec = 10,
     .width = 1000,
     .height = 1500,
     .distortion = -0.05,
     .axis_x = 1800,
     .axis_y = -1200,
     .corner_px = 3600},
};

START_TEST(test_lens_points_where_asked)
{
    const double pointing[][3] = {
        {83, -5, 20}, {0, 90, 100}, {359.999, 89.9, 0}, {12, -89.95, 333}, {0.001, 0, 180}};
    for (int i = 0; i < 5; i++) {
        for (int k = 0; k < 5; k++) {
            struct wcs wcs;
            double ra, dec;
            const double *p = pointing[k];
            lens_wcs(&wcs, &lenses[i], p[0], p[1], p[2]);
            wcs_centre(&wcs, &ra, &dec);
            assert_near(radec_angle_deg(ra, dec, p[0], p[1]) * 3600, 0, 1e-6, "arcsec");
            ck_assert_int_eq(wcs_mirrored(&wcs), lenses[i].mirrored);
            /* At a pole the angle counts from a right ascension that rounding may change. */
            if (fabs(p[1]) < 89.99) {
                assert_near_turn(wcs_up_angle_deg(&wcs), p[2], 1e-5);
            } else {
                assert_near_turn(wcs_up_angle_deg(&wcs) - ra, p[2] - p[0], 1e-5);
            }
        }
    }
}
END_TEST

START_TEST(test_plan_agrees_with_wcs)
{
    struct random random = {9};
    for (int i = 0; i < 5; i++) {
        const struct lens *lens = &lenses[i];
        struct wcs wcs;
        struct lens_plan plan;
        lens_wcs(&wcs, lens, 200, 60 - 30 * i, 70 * i);
        lens_plan_make(&plan, lens, &wcs);
        for (int k = 0; k < 300; k++) {
            double x = random_between(&random, -0.5, lens->width);
            double y = random_between(&random, -0.5, lens->height), v[3], x2 = 0, y2 = 0;
            wcs_direction(v, &wcs, x, y);
            ck_assert(lens_plan_pixel(&x2, &y2, &plan, v));
            assert_near(x2, x, 1e-5, "px");
            assert_near(y2, y, 1e-5, "px");
        }
    }
}
END_TEST

START_TEST(test_distortion_at_corner)
{
    struct lens lens = {.scale_arcsec = 10, .width = 3000, .height = 2000, .distortion = -0.06};
    struct wcs bent, straight;
    lens_wcs(&bent, &lens, 10, 20, 0);
    lens.distortion = 0;
    lens_wcs(&straight, &lens, 10, 20, 0);
    double v[3], x, y, corner = hypot(1500, 1000);
    wcs_direction(v, &bent, 1499.5 + 1500, 999.5 + 1000);
    ck_assert(wcs_pixel(&x, &y, &straight, v));
    /* A barrel pulls the ideal place inwards by 6 per cent. */
    assert_near(corner / hypot(x - 1499.5, y - 999.5), 0.94, 1e-9, "share");
}
END_TEST

/* ---- camera ---- */

START_TEST(test_limit_pair)
{
    struct camera camera = camera_typical();
    for (double snr = 2; snr < 300; snr *= 2) {
        for (double trail = 0; trail < 30; trail += 9) {
            double mag = camera_limit_mag(&camera, snr, trail);
            assert_near(camera_snr(&camera, mag, trail), snr, 1e-9 * snr, "signal to noise");
        }
    }
}
END_TEST

START_TEST(test_typical_depths)
{
    /* What single exposures under suburban sky show: common practice, no source. */
    struct camera camera = camera_typical();
    double trail = camera_trail_px(&camera, 0);
    assert_near(trail, 9.9, 0.2, "px"); /* 500 rule: 250 mm, 2 s */
    assert_near(camera_limit_mag(&camera, 10, trail), 10, 0.5, "mag");
    camera.focal_mm = 50;
    camera.f_number = 2.8;
    camera.exposure_s = 4;
    assert_near(camera_limit_mag(&camera, 10, camera_trail_px(&camera, 0)), 8.3, 0.5, "mag");
}
END_TEST

/* ---- brush ---- */

struct moments {
    double sum, x, y, xx, yy, xy;
};

static struct moments measure(const float *plane, int size)
{
    struct moments m = {0};
    for (int i = 0; i < size * size; i++) {
        double x = i % size, y = i / size, value = plane[i];
        m.sum += value;
        m.x += value * x;
        m.y += value * y;
        m.xx += value * x * x;
        m.yy += value * y * y;
        m.xy += value * x * y;
    }
    m.x /= m.sum;
    m.y /= m.sum;
    m.xx = m.xx / m.sum - m.x * m.x;
    m.yy = m.yy / m.sum - m.y * m.y;
    m.xy = m.xy / m.sum - m.x * m.y;
    return m;
}

START_TEST(test_brush)
{
    enum { SIZE = 201 };
    struct brush *brush = malloc(sizeof *brush);
    float *plane = malloc(SIZE * SIZE * sizeof *plane);
    ck_assert(brush && plane);
    brush_make(brush);
    struct moments round = {0};
    for (int k = 0; k < 6; k++) {
        double length = k * 4, angle = 0.7 * k;
        struct stroke stroke = {.x = 100.3,
                                .y = 99.8,
                                .trail_x = length * cos(angle),
                                .trail_y = length * sin(angle),
                                .fwhm = 2.6,
                                .electrons = 1e5,
                                .gain = mosaic_grey()};
        memset(plane, 0, SIZE * SIZE * sizeof *plane);
        brush_draw(plane, SIZE, SIZE, brush, &stroke, 1e-4);
        struct moments m = measure(plane, SIZE);
        assert_near(m.sum, 1e5, 1e5 * 0.003, "electrons");
        assert_near(m.x, 100.3, 0.003, "px");
        assert_near(m.y, 99.8, 0.003, "px");
        round = k == 0 ? m : round;
        /* An even line adds a twelfth of its length squared. */
        double c = cos(angle), s = sin(angle), line = length * length / 12;
        assert_near(m.xx - round.xx, line * c * c, 0.03 + 0.01 * line, "px^2");
        assert_near(m.yy - round.yy, line * s * s, 0.03 + 0.01 * line, "px^2");
        assert_near(m.xy, line * c * s, 0.03 + 0.01 * line, "px^2");
    }
    free(brush);
    free(plane);
}
END_TEST

START_TEST(test_brush_keeps_inside)
{
    struct brush *brush = malloc(sizeof *brush);
    ck_assert(brush);
    brush_make(brush);
    struct random random = {8};
    float plane[20 * 20] = {0};
    for (int k = 0; k < 2000; k++) { /* the address sanitiser is the judge */
        struct stroke stroke = {.x = random_between(&random, -60, 80),
                                .y = random_between(&random, -60, 80),
                                .trail_x = random_between(&random, -30, 30),
                                .trail_y = random_between(&random, -30, 30),
                                .fwhm = 3,
                                .electrons = 1e6,
                                .gain = mosaic_grey()};
        brush_draw(plane, 20, 20, brush, &stroke, 0.01);
    }
    for (int i = 0; i < 400; i++) {
        ck_assert(isfinite(plane[i]) && plane[i] >= 0);
    }
    free(brush);
}
END_TEST

/* ---- sensor ---- */

static struct render_options small_options(void)
{
    struct render_options o = render_options_typical();
    o.lens.width = 900;
    o.lens.height = 600;
    o.ra_deg = 83;
    o.dec_deg = 10;
    return o;
}

static struct render_options clean_options(void)
{
    struct render_options o = small_options();
    o.light = (struct render_light){0};
    o.sensor.hot_share = 0;
    o.sensor.pattern_e = 0;
    return o;
}

static void render_or_fail(struct rendering *r, const struct render_options *o)
{
    struct error err = {0};
    ck_assert_msg(!render(r, &field, NULL, o, &err), "%s", err.text);
}

/* Mean and variance of all pixels. */
static void statistics(double *mean, double *variance, const struct rendering *r)
{
    double sum = 0, squares = 0, n = (double)r->width * r->height;
    for (long i = 0; i < (long)r->width * r->height; i++) {
        sum += r->adu[i];
        squares += (double)r->adu[i] * r->adu[i];
    }
    *mean = sum / n;
    *variance = squares / n - *mean * *mean;
}

/* A sky without stars: so far from any that the shutter of a lens cap would not matter. */
static struct render_options starless_options(double sky_e)
{
    struct render_options o = clean_options();
    o.camera.throughput = 1e-30;
    double scale = camera_scale_arcsec(&o.camera);
    o.camera.sky_mag = 2.5 * log10(camera_star_e(&o.camera, 0) * scale * scale / sky_e);
    return o;
}

START_TEST(test_noise)
{
    const double levels[] = {2, 30, 400};
    for (int i = 0; i < 3; i++) {
        struct render_options o = starless_options(levels[i]);
        struct rendering r = {0};
        double mean, variance, gain = o.sensor.e_per_adu;
        render_or_fail(&r, &o);
        statistics(&mean, &variance, &r);
        double want = (levels[i] + 25) / (gain * gain) + 1 / 12.0; /* photons, reading, rounding */
        /* 540,000 pixels know the mean to 1/735 of the deviation, the variance to 0.2 %; the table
         * of the normal distribution ends at 4.3 deviations: another 0.02 %. */
        assert_near(mean, o.sensor.black_adu + levels[i] / gain, 4 * sqrt(want) / 735, "ADU");
        assert_near(variance / want, 1, 0.01, "share");
        rendering_free(&r);
    }
}
END_TEST

START_TEST(test_stack_noise)
{
    struct render_options o = starless_options(30);
    struct rendering r = {0};
    double mean, variance, gain = o.sensor.e_per_adu;
    o.camera.stacked = 100;
    render_or_fail(&r, &o);
    statistics(&mean, &variance, &r);
    assert_near(variance * 100 * gain * gain / 55, 1, 0.01, "share");
    rendering_free(&r);
}
END_TEST

START_TEST(test_lens_cap)
{
    struct render_options o = clean_options();
    struct rendering r = {0};
    double mean, variance;
    o.camera.throughput = 0;
    render_or_fail(&r, &o);
    statistics(&mean, &variance, &r);
    assert_near(mean, o.sensor.black_adu, 0.2, "ADU");
    ck_assert_int_eq(r.stars, 0);
    rendering_free(&r);
}
END_TEST

START_TEST(test_seeds)
{
    struct render_options o = small_options();
    struct rendering a = {0}, b = {0}, c = {0};
    o.sensor.hot_share = 1e-3;
    render_or_fail(&a, &o);
    render_or_fail(&b, &o);
    o.seed = 2;
    render_or_fail(&c, &o);
    size_t size = (size_t)a.width * (size_t)a.height;
    ck_assert(memcmp(a.adu, b.adu, size * sizeof *a.adu) == 0);
    int both = 0, only = 0, differ = 0;
    float hot = 3000;
    for (size_t i = 0; i < size; i++) {
        both += a.adu[i] > hot && c.adu[i] > hot;
        only += a.adu[i] > hot && c.adu[i] < hot / 2;
        differ += a.adu[i] != c.adu[i];
    }
    ck_assert_int_gt(both, 20); /* faults stay in place */
    ck_assert_int_eq(only, 0);
    ck_assert_int_gt(differ, (int)size / 2); /* noise does not */
    rendering_free(&a);
    rendering_free(&b);
    rendering_free(&c);
}
END_TEST

/* ---- pictures ---- */

/* Centroid of what stands out in a box around a true star. */
static bool centroid(double *x, double *y, double *sum, const struct rendering *r,
                     const struct render_star *star, int half)
{
    int left = (int)lround(star->x) - half, top = (int)lround(star->y) - half;
    double sky = r->options.sensor.black_adu +
                 camera_sky_e(&r->options.camera) / r->options.sensor.e_per_adu;
    if (left < 0 || top < 0 || left + 2 * half >= r->width || top + 2 * half >= r->height) {
        return false;
    }
    *x = *y = *sum = 0;
    for (int j = top; j <= top + 2 * half; j++) {
        for (int i = left; i <= left + 2 * half; i++) {
            double value = r->adu[(long)j * r->width + i] - sky;
            *sum += value;
            *x += value * i;
            *y += value * j;
        }
    }
    *x /= *sum;
    *y /= *sum;
    return true;
}

static bool is_alone(const struct rendering *r, int i, double distance)
{
    for (int k = 0; k < r->stars; k++) {
        if (k != i && r->star[k].electrons > 0.005 * r->star[i].electrons &&
            hypot(r->star[k].x - r->star[i].x, r->star[k].y - r->star[i].y) < distance) {
            return false;
        }
    }
    return true;
}

START_TEST(test_stars_lie_where_the_truth_says)
{
    struct render_options o = clean_options();
    struct rendering r = {0};
    int checked = 0;
    o.lens.width = 3600;
    o.lens.height = 2400;
    o.lens.distortion = -0.04;
    o.lens.mirrored = true;
    o.up_angle_deg = 33;
    o.ra_deg = 190; /* far from the Milky Way */
    o.dec_deg = 30;
    o.camera.focal_mm = 85;
    o.camera.f_number = 1.4;
    o.camera.exposure_s = 4;
    render_or_fail(&r, &o);
    double full_e = (SENSOR_WHITE - o.sensor.black_adu) * o.sensor.e_per_adu;
    for (int i = 0; i < r.stars; i++) {
        const struct render_star *star = &r.star[i];
        double x, y, sum;
        if (star->electrons < 1e4 || star->electrons > 14 * full_e || !is_alone(&r, i, 20) ||
            !centroid(&x, &y, &sum, &r, star, 9)) {
            continue;
        }
        /* Noise of a plain centroid over 19 x 19 px: 5.5 px * 19 * pixel noise / flux; and stars
         * too faint to count as company, half a per cent at most, 13 px off at most. */
        double pixel_noise = sqrt(camera_sky_e(&o.camera) + 25);
        double noise = 19 * pixel_noise / star->electrons;
        assert_near(x, star->x, 0.065 + 5 * 5.5 * noise, "px");
        assert_near(y, star->y, 0.065 + 5 * 5.5 * noise, "px");
        /* The box holds all but the outer wings. */
        double light = sum * o.sensor.e_per_adu;
        assert_near(light / star->electrons, 0.99, 0.015 + 5 * noise, "share");
        checked++;
    }
    ck_assert_int_gt(checked, 10);
    rendering_free(&r);
}
END_TEST

START_TEST(test_truth_agrees_with_catalogue)
{
    struct render_options o = clean_options();
    struct rendering r = {0};
    int checked = 0;
    o.camera.focal_mm = 50;
    render_or_fail(&r, &o);
    for (int i = 0; i < r.stars; i++) {
        for (int k = 0; k < field.count && r.star[i].hip; k++) {
            if (field.star[k].hip == r.star[i].hip) {
                double x, y;
                ck_assert(wcs_pixel(&x, &y, &r.truth, field.star[k].v));
                assert_near(x, r.star[i].x, 1e-4, "px");
                assert_near(y, r.star[i].y, 1e-4, "px");
                checked++;
            }
        }
    }
    ck_assert_int_gt(checked, 3);
    rendering_free(&r);
}
END_TEST

START_TEST(test_tripod_drift)
{
    struct render_options o = clean_options();
    struct place place = {47, 8, 400, 0, 0};
    struct utc start;
    struct rendering first = {0}, later = {0};
    o.camera.focal_mm = 100;
    ck_assert(time_read(&start, "2026-02-10T19:00:00Z"));
    ck_assert(render_point_tripod(&o, &place, start, 150, 45, 12));
    render_or_fail(&first, &o);
    ck_assert(render_point_tripod(&o, &place, time_add(start, 60), 150, 45, 12));
    render_or_fail(&later, &o);
    double v[3], x, y, ra, dec;
    wcs_direction(v, &first.truth, 449.5, 299.5);
    ck_assert(wcs_pixel(&x, &y, &later.truth, v));
    wcs_centre(&first.truth, &ra, &dec);
    double drift = hypot(x - 449.5, y - 299.5) * wcs_scale_arcsec(&first.truth);
    /* 15.041 arcsec/s cos(dec); ICRS and date differ by 0.15 deg, the lens bends 0.6 % at most. */
    assert_near(drift / (60 * 15.041 * cos(dec * RAD_PER_DEG)), 1, 0.006, "share");
    ck_assert_msg(x > 449.5, "in the south the sky goes right");
    assert_stamp(later.options.start, "2026-02-10T19:01:00.00Z");
    /* The zenith is 12 degrees left of picture-up: the camera was turned clockwise. */
    double zenith;
    ck_assert(horizon_zenith_angle(&zenith, &place, start, ra, dec));
    assert_near_turn(first.options.up_angle_deg, zenith - 12, 0.05);
    rendering_free(&first);
    rendering_free(&later);
}
END_TEST

START_TEST(test_trail_goes_along_the_drift)
{
    struct render_options o = clean_options();
    struct rendering r = {0};
    o.camera.exposure_s = 6;
    o.up_angle_deg = 40;
    o.ra_deg = 84.05;
    o.dec_deg = -1.2; /* in the belt */
    render_or_fail(&r, &o);
    ck_assert_int_gt(r.stars, 0);
    const struct render_star *star = &r.star[0];
    ck_assert(star->x > 60 && star->y > 60 && star->x < 840 && star->y < 540);
    float box[61 * 61];
    for (int i = 0; i < 61 * 61; i++) {
        int x = (int)lround(star->x) - 30 + i % 61, y = (int)lround(star->y) - 30 + i / 61;
        box[i] = fmaxf(r.adu[(long)y * r.width + x] - 1000, 0);
    }
    struct moments m = measure(box, 61);
    double angle = atan2(2 * m.xy, m.xx - m.yy) / 2 * DEG_PER_RAD;
    /* West is 50 degrees from picture-up, clockwise: up is 40 degrees east of north, 130 of west.
     */
    double west_x = sin((-90 - 40) * RAD_PER_DEG) * -1, west_y = -cos((-90 - 40) * RAD_PER_DEG);
    double want = atan2(west_y, west_x) * DEG_PER_RAD;
    double off = remainder(angle - want, 180);
    assert_near(off, 0, 1.5, "deg");
    double length = 6 * 15.041 * cos(o.dec_deg * RAD_PER_DEG) / camera_scale_arcsec(&o.camera);
    /* The thresholded box cuts the ends a little. */
    assert_near(sqrt(12 * (m.xx + m.yy)), length, 0.15 * length, "px");
    rendering_free(&r);
}
END_TEST

START_TEST(test_foreground_and_cloud)
{
    struct render_options o = clean_options();
    struct rendering clear = {0}, covered = {0};
    o.camera.focal_mm = 50;
    render_or_fail(&clear, &o);
    o.light.foreground = 0.4;
    o.light.cloud = 1;
    render_or_fail(&covered, &o);
    ck_assert_int_lt(covered.stars, clear.stars);
    double faint = 0, bright = 0;
    for (int i = 0; i < covered.stars; i++) {
        ck_assert(covered.star[i].y < 599);
        double share = covered.star[i].electrons / camera_star_e(&o.camera, covered.star[i].mag);
        ck_assert(share > 0 && share <= 1.0001);
        faint += share < 0.5;
        bright += share > 0.9;
    }
    ck_assert(faint > 0 && bright > 0); /* patchy */
    rendering_free(&clear);
    rendering_free(&covered);
}
END_TEST

START_TEST(test_refused_options)
{
    struct error err = {0};
    struct rendering r = {0};
    struct render_options o = small_options();
    o.lens.width = 3;
    ck_assert_int_eq(render(&r, &field, NULL, &o, &err), ERROR_USAGE);
    ck_assert(strstr(err.text, "3 x 600"));
    o = small_options();
    o.camera.exposure_s = 0;
    ck_assert_int_eq(render(&r, &field, NULL, &o, &err), ERROR_USAGE);
    o = small_options();
    o.dec_deg = NAN;
    ck_assert_int_eq(render(&r, &field, NULL, &o, &err), ERROR_USAGE);
    ck_assert(!r.adu && !r.star);
    rendering_free(&r);
}
END_TEST

START_TEST(test_nebulae)
{
    struct nebulae nebulae = {0};
    struct error err = {0};
    struct rendering without = {0}, with = {0};
    struct render_options o = clean_options();
    o.ra_deg = 10.685;
    o.dec_deg = 41.269;
    o.camera.stacked = 400;
    o.tracked = true;
    ck_assert_msg(!nebulae_load(&nebulae, "catalogs/objects.tsv", &err), "%s", err.text);
    render_or_fail(&without, &o);
    ck_assert(!render(&with, &field, &nebulae, &o, &err));
    double middle = 0;
    for (int y = 290; y < 310; y++) {
        for (int x = 440; x < 460; x++) {
            middle += (with.adu[y * 900 + x] - without.adu[y * 900 + x]) / 400;
        }
    }
    double noise = sqrt((camera_sky_e(&o.camera) + 25) / 400) / o.sensor.e_per_adu;
    ck_assert_msg(middle > 3 * noise, "M 31 adds %g ADU, noise is %g", middle, noise);
    rendering_free(&without);
    rendering_free(&with);
    nebulae_free(&nebulae);
}
END_TEST

/* ---- files ---- */

static void read_back(struct frame *frame, const struct rendering *r, const char *ending,
                      const struct render_header *header)
{
    char folder[] = "/tmp/alidade-render-XXXXXX", name[64];
    struct error err = {0};
    struct frame_options options = {0};
    ck_assert(mkdtemp(folder));
    snprintf(name, sizeof name, "%s/a.%s", folder, ending);
    ck_assert_msg(!render_write(r, name, header, &err), "%s", err.text);
    ck_assert_msg(!frame_read(frame, name, &options, &err), "%s", err.text);
    unlink(name);
    ck_assert(rmdir(folder) == 0); /* and nothing else was left there */
}

START_TEST(test_files)
{
    struct render_options o = small_options();
    struct rendering r = {0};
    struct frame fits = {0}, png = {0}, jpeg = {0}, direct = {0};
    struct render_header header = {.stated_focal_mm = 255, .zone_minutes = 60};
    struct error err = {0};
    o.start = make_stamp("2026-03-14T21:04:05.25Z");
    render_or_fail(&r, &o);
    read_back(&fits, &r, "fits", &header);
    read_back(&png, &r, "png", &header);
    read_back(&jpeg, &r, "jpg", &header);
    ck_assert(!rendering_to_frame(&direct, &r, &err));
    ck_assert_int_eq(fits.width, 900);
    ck_assert_int_eq(jpeg.height, 600);
    for (int i = 0; i < 900 * 600; i++) {
        assert_near(fits.luminance.value[i], 4 * r.adu[i], 0.5, "16-bit units");
        assert_near(png.luminance.value[i], 4 * r.adu[i], 0.5, "16-bit units");
        assert_near(direct.luminance.value[i], r.adu[i], 0, "ADU");
    }
    assert_near(fits.facts.focal_mm.value, 255, 1e-9, "mm");
    assert_near(jpeg.facts.focal_mm.value, 255, 1e-9, "mm");
    assert_near(jpeg.facts.exposure_s.value, 2, 1e-9, "s");
    assert_near(jpeg.facts.iso.value, 3200, 0, "ISO");
    assert_near(jpeg.facts.f_number.value, 4, 1e-9, "f-number");
    assert_near(jpeg.facts.pixel_um.value, 3.7, 0.001, "um");
    assert_stamp(jpeg.facts.start_local, "2026-03-14T22:04:05.25");
    assert_stamp(fits.facts.start_utc, "2026-03-14T21:04:05.25Z");
    frame_free(&fits);
    frame_free(&png);
    frame_free(&jpeg);
    frame_free(&direct);
    rendering_free(&r);
}
END_TEST

/* Through LibRaw: the sensor's numbers above black, and what the camera says. */
START_TEST(test_raw_file)
{
    struct render_options o = small_options();
    struct rendering r = {0};
    struct frame dng = {0};
    struct render_header header = {.zone_minutes = -90,
                                   .zone_stated = _i == 1,
                                   .place_stated = _i == 1,
                                   .latitude_deg = -33.5,
                                   .longitude_deg = 18.25};
    o.start = make_stamp("2026-03-14T21:04:05.25Z");
    o.sensor.mosaic = _i == 1;
    render_or_fail(&r, &o);
    read_back(&dng, &r, "dng", &header);
    int bin = dng.luminance.bin, columns = 900 / bin;
    ck_assert_int_eq(bin, _i == 1 ? 2 : 1);
    ck_assert_int_eq(dng.luminance.width, columns);
    for (int i = 0; i < columns * (600 / bin); i++) {
        const float *from = r.adu + i / columns * bin * 900 + i % columns * bin;
        float want = bin == 1 ? from[0] : (from[0] + from[1] + from[900] + from[901]) / 4;
        assert_near(dng.luminance.value[i], want - 512, 1e-3, "ADU above black");
    }
    assert_near(dng.luminance.full, SENSOR_WHITE - 512, 0, "ADU");
    assert_near(dng.facts.focal_mm.value, 250, 1e-6, "mm");
    assert_near(dng.facts.pixel_um.value, 3.7, 0.001, "um");
    assert_near(dng.facts.f_number.value, 4, 1e-6, "f-number");
    assert_near(dng.facts.iso.value, 3200, 0, "ISO");
    assert_stamp(dng.facts.start_local, "2026-03-14T19:34:05.25");
    assert_stamp(dng.facts.start_utc, _i == 1 ? "2026-03-14T21:04:05.25Z" : "");
    ck_assert_str_eq(dng.facts.camera, "Alidade demo camera");
    ck_assert_int_eq(dng.facts.latitude_deg.origin, _i == 1 ? FACT_EXIF : FACT_UNKNOWN);
    if (_i == 1) {
        assert_near(dng.facts.latitude_deg.value, -33.5, 1e-6, "deg");
        assert_near(dng.facts.longitude_deg.value, 18.25, 1e-6, "deg");
    }
    frame_free(&dng);
    rendering_free(&r);
}
END_TEST

START_TEST(test_files_that_cannot_be_written)
{
    struct render_options o = small_options();
    struct rendering r = {0};
    struct render_header header = {0};
    const char *const names[] = {"/nonexistent/a.fits", "/nonexistent/a.png", "/nonexistent/a.jpg",
                                 "/nonexistent/a.dng"};
    render_or_fail(&r, &o);
    for (int i = 0; i < 4; i++) {
        struct error err = {0};
        ck_assert_int_eq(render_write(&r, names[i], &header, &err), ERROR_OUTPUT);
        ck_assert(strstr(err.text, names[i]));
    }
    struct error err = {0};
    ck_assert_int_eq(render_write(&r, "a.bmp", &header, &err), ERROR_USAGE);
    rendering_free(&r);
}
END_TEST

START_TEST(test_stack_picture)
{
    struct render_options o = small_options();
    struct rendering r = {0};
    unsigned char *bytes = malloc(900 * 600);
    int histogram[256] = {0}, below = 0, median = 0;
    o.camera.stacked = 200;
    o.tracked = true;
    o.ra_deg = 84.05;
    o.dec_deg = -1.2;
    render_or_fail(&r, &o);
    rendering_to_bytes(bytes, &r);
    for (int i = 0; i < 900 * 600; i++) {
        histogram[bytes[i]]++;
    }
    while (below + histogram[median] < 900 * 300) {
        below += histogram[median++];
    }
    assert_near(median, 26, 8, "of 255"); /* a dark grey, as such pictures have */
    ck_assert(histogram[255] > 0);
    free(bytes);
    rendering_free(&r);
}
END_TEST

/* ---- star lists ---- */

static struct model_options list_options(void)
{
    return (struct model_options){
        .lens = {.scale_arcsec = 6, .width = 5000, .height = 3300, .distortion = -0.02},
        .ra_deg = 300,
        .dec_deg = 30,
        .up_angle_deg = 10,
        .limit_mag = 9,
        .seed = 4};
}

static void list_or_fail(struct model_stars *model, const struct model_options *options)
{
    struct error err = {0};
    ck_assert(!model_star_list(model, &field, options, &err));
}

START_TEST(test_list_is_true)
{
    struct model_options o = list_options();
    struct model_stars model = {0};
    double sum = 0;
    int n = 0;
    o.position_noise_px = 0.5;
    o.lens.mirrored = true;
    list_or_fail(&model, &o);
    ck_assert(wcs_mirrored(&model.truth));
    for (int i = 0; i < model.list.count; i++) {
        ck_assert(wcs_inside(&model.truth, model.list.star[i].x, model.list.star[i].y));
        ck_assert(i == 0 || model.list.star[i].flux <= model.list.star[i - 1].flux);
        for (int k = 0; k < field.count && model.hip[i]; k++) {
            if (field.star[k].hip == model.hip[i]) {
                double x, y;
                ck_assert(wcs_pixel(&x, &y, &model.truth, field.star[k].v));
                sum += pow(x - model.list.star[i].x, 2) + pow(y - model.list.star[i].y, 2);
                n += 2;
            }
        }
    }
    ck_assert_int_gt(n, 200);
    assert_near(sqrt(sum / n), 0.5, 4 * 0.5 / sqrt(2 * n), "px");
    model_stars_free(&model);
}
END_TEST

static int listed(const struct model_stars *model)
{
    int n = 0;
    for (int i = 0; i < model->list.count; i++) {
        n += model->hip[i] != 0;
    }
    return n;
}

START_TEST(test_list_shares)
{
    struct model_options o = list_options();
    struct model_stars model = {0};
    o.only_listed = true;
    list_or_fail(&model, &o);
    int all = model.list.count;
    ck_assert_int_eq(listed(&model), all);
    o.missing = 0.4;
    list_or_fail(&model, &o);
    assert_near(model.list.count, 0.6 * all, 5 * sqrt(0.24 * all), "stars");
    o.missing = 0;
    o.spurious = 0.6;
    list_or_fail(&model, &o);
    ck_assert_int_eq(listed(&model), all);
    assert_near(all, 0.4 * model.list.count, 1, "stars");
    o.max_stars = 50;
    list_or_fail(&model, &o);
    ck_assert_int_eq(model.list.count, 50);
    assert_near(listed(&model), 20, 1, "stars");
    o.max_stars = 0;
    o.spurious = 0;
    o.only_listed = false;
    list_or_fail(&model, &o);
    ck_assert_int_gt(model.list.count, all);
    model_stars_free(&model);
}
END_TEST

START_TEST(test_list_without_stars)
{
    struct model_options o = list_options();
    struct model_stars model = {0};
    o.limit_mag = -5;
    o.spurious = 0.5;
    list_or_fail(&model, &o);
    ck_assert_int_eq(model.list.count, 0);
    model_stars_free(&model);
    model_stars_free(&model);
}
END_TEST

START_TEST(test_list_repeats)
{
    struct model_options o = list_options();
    struct model_stars a = {0}, b = {0};
    o.position_noise_px = 0.3;
    o.mag_noise = 0.2;
    o.spurious = 0.3;
    list_or_fail(&a, &o);
    list_or_fail(&b, &o);
    ck_assert_int_eq(a.list.count, b.list.count);
    for (int i = 0; i < a.list.count; i++) {
        const struct star *s = &a.list.star[i], *t = &b.list.star[i];
        ck_assert(s->x == t->x && s->y == t->y && s->flux == t->flux && s->peak == t->peak &&
                  s->snr == t->snr && s->size == t->size && s->elongation == t->elongation &&
                  s->angle_deg == t->angle_deg && s->saturated == t->saturated &&
                  a.hip[i] == b.hip[i]);
    }
    o.seed++;
    list_or_fail(&b, &o);
    ck_assert(a.list.star[0].x != b.list.star[0].x);
    model_stars_free(&a);
    model_stars_free(&b);
}
END_TEST

static TCase *make_case(const char *name)
{
    TCase *tests = tcase_create(name);
    tcase_add_checked_fixture(tests, load_field, free_field);
    tcase_set_timeout(tests, 60);
    return tests;
}

static TCase *sky_case(void)
{
    TCase *tests = make_case("sky and camera");
    tcase_add_test(tests, test_counts);
    tcase_add_test(tests, test_crowding);
    tcase_add_test(tests, test_looks_agree);
    tcase_add_test(tests, test_look_misses_nothing);
    tcase_add_test(tests, test_bad_star_table);
    tcase_add_test(tests, test_lens_points_where_asked);
    tcase_add_test(tests, test_plan_agrees_with_wcs);
    tcase_add_test(tests, test_distortion_at_corner);
    tcase_add_test(tests, test_limit_pair);
    tcase_add_test(tests, test_typical_depths);
    return tests;
}

static TCase *picture_case(void)
{
    TCase *tests = make_case("pictures");
    tcase_add_test(tests, test_brush);
    tcase_add_test(tests, test_brush_keeps_inside);
    tcase_add_test(tests, test_noise);
    tcase_add_test(tests, test_stack_noise);
    tcase_add_test(tests, test_lens_cap);
    tcase_add_test(tests, test_seeds);
    tcase_add_test(tests, test_stars_lie_where_the_truth_says);
    tcase_add_test(tests, test_truth_agrees_with_catalogue);
    tcase_add_test(tests, test_tripod_drift);
    tcase_add_test(tests, test_trail_goes_along_the_drift);
    tcase_add_test(tests, test_foreground_and_cloud);
    tcase_add_test(tests, test_refused_options);
    tcase_add_test(tests, test_nebulae);
    tcase_add_test(tests, test_files);
    tcase_add_loop_test(tests, test_raw_file, 0, 2);
    tcase_add_test(tests, test_files_that_cannot_be_written);
    tcase_add_test(tests, test_stack_picture);
    return tests;
}

static TCase *list_case(void)
{
    TCase *tests = make_case("star lists");
    tcase_add_test(tests, test_list_is_true);
    tcase_add_test(tests, test_list_shares);
    tcase_add_test(tests, test_list_without_stars);
    tcase_add_test(tests, test_list_repeats);
    return tests;
}

Suite *render_suite(void)
{
    Suite *suite = suite_create("render");
    suite_add_tcase(suite, sky_case());
    suite_add_tcase(suite, picture_case());
    suite_add_tcase(suite, list_case());
    return suite;
}
