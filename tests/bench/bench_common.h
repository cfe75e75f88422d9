/* tests/bench/bench_common.h: what the programs that measure share. They may print and exit. */
#ifndef ALIDADE_TESTS_BENCH_COMMON_H
#define ALIDADE_TESTS_BENCH_COMMON_H

#include "base/error.h"
#include "base/random.h"
#include "base/units.h"
#include "demo/camera.h"
#include "demo/lens.h"
#include "demo/starfield.h"
#include "match/index.h"
#include "sky/vector.h"
#include "sky/wcs.h"
#include "stars/stars.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

/* Ends the program when err says that something went wrong. */
static inline void bench_require(int code, const struct error *err)
{
    if (code) {
        fprintf(stderr, "bench: %s\n", err->text);
        exit(2);
    }
}

static inline void *bench_calloc(size_t count, size_t size)
{
    void *made = calloc(count ? count : 1, size);
    if (!made) {
        fprintf(stderr, "bench: out of memory\n");
        exit(2);
    }
    return made;
}

/* CLOCK_THREAD_CPUTIME_ID for the processor time of this thread, CLOCK_MONOTONIC for the wall. */
static inline double bench_ms(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

static inline int bench_compare(const void *a, const void *b)
{
    double s = *(const double *)a, t = *(const double *)b;
    return s < t ? -1 : s > t;
}

/* The value that this share of the values does not exceed; sorts them. NaN if there are none. */
static inline double bench_quantile(double *value, int count, double share)
{
    if (count == 0) {
        return (double)NAN;
    }
    qsort(value, (size_t)count, sizeof *value, bench_compare);
    int place = (int)ceil(share * count) - 1;
    return value[place < 0 ? 0 : place];
}

/* A file of lines "key<tab>value" that run.sh reads; nothing if name is NULL. */
static inline void bench_note(const char *name, const char *key, double value)
{
    if (!name) {
        return;
    }
    FILE *file = fopen(name, "a");
    if (!file || fprintf(file, "%s\t%.9g\n", key, value) < 0 || fclose(file)) {
        fprintf(stderr, "bench: %s cannot be written\n", name);
        exit(2);
    }
}

/* Different for every (group, number), however near these are to each other. */
static inline uint64_t bench_seed(unsigned group, unsigned number)
{
    struct random random = {((uint64_t)group << 32) + number};
    return random_bits(&random);
}

static inline double bench_log_between(struct random *r, double low, double high)
{
    return low * pow(high / low, random_uniform(r));
}

enum { BENCH_WIDTH = 6000, BENCH_HEIGHT = 4000 };

/* A camera as in a typical evening: a crop sensor of 24 megapixels behind the lens that makes its
 * field this wide, between f/2.8 and f/5.6, under moonlit suburb or a darker sky, exposed by the
 * 500 rule (500 / focal length in mm = seconds; common practice, no source) within 1 to 8 s. */
static inline struct camera bench_camera(struct random *r, double width_deg)
{
    struct camera camera = camera_typical();
    double half = tan(width_deg / 2 * RAD_PER_DEG);
    camera.focal_mm = BENCH_WIDTH * camera.pixel_um / 1000 / (2 * half);
    camera.f_number = bench_log_between(r, 2.8, 5.6);
    camera.exposure_s = fmin(fmax(500 / camera.focal_mm, 1), 8) * random_between(r, 0.6, 1);
    camera.sky_mag = random_between(r, 18, 20);
    camera.fwhm_px = random_between(r, 2.2, 3.5);
    return camera;
}

/* Its lens: distortion of 1 % at the corner (deviation), the axis half a per cent of the width off.
 */
static inline struct lens bench_lens(struct random *r, const struct camera *camera)
{
    struct lens lens = {
        .scale_arcsec = camera_scale_arcsec(camera), .width = BENCH_WIDTH, .height = BENCH_HEIGHT};
    lens.axis_x = 0.005 * BENCH_WIDTH * random_normal(r);
    lens.axis_y = 0.005 * BENCH_WIDTH * random_normal(r);
    lens.distortion = 0.01 * random_normal(r);
    return lens;
}

/* Every star gets the x of one and the y of another: what is left is as dense here and there and as
 * bright as a sky, but is none. To exchange whole places would leave all stars where they are. */
static inline void bench_scramble(struct star_list *list, struct random *r)
{
    for (int i = list->count - 1; i > 0; i--) {
        int j = (int)(random_uniform(r) * (i + 1));
        double x = list->star[i].x;
        list->star[i].x = list->star[j].x;
        list->star[j].x = x;
    }
}

/* How far the middle of the picture is off, as a share of its width, and the scale there. */
static inline void bench_errors(double *centre, double *scale, const struct wcs *found,
                                const struct wcs *truth)
{
    double ra, dec, true_ra, true_dec, width, height;
    wcs_centre(found, &ra, &dec);
    wcs_centre(truth, &true_ra, &true_dec);
    wcs_field(truth, &width, &height);
    *centre = radec_angle_deg(ra, dec, true_ra, true_dec) / width;
    *scale = wcs_scale_arcsec(found) / wcs_scale_arcsec(truth) - 1;
}

/* Both within 1 %, and the right hand. */
static inline bool bench_is_right(const struct wcs *found, const struct wcs *truth)
{
    double centre, scale;
    bench_errors(&centre, &scale, found, truth);
    return centre < 0.01 && fabs(scale) < 0.01 && wcs_mirrored(found) == wcs_mirrored(truth);
}

/* The sky that is photographed and the index it is looked up in. */
struct bench_sky {
    struct starfield field;
    struct index_file index;
};

static inline void bench_sky_load(struct bench_sky *sky, const char *index)
{
    struct error err = {0};
    bench_require(starfield_load(&sky->field, "catalogs/stars.tsv", 1, &err), &err);
    bench_require(index_open(&sky->index, index, &err), &err);
}

static inline void bench_sky_free(struct bench_sky *sky)
{
    starfield_free(&sky->field);
    index_close(&sky->index);
}

#endif
