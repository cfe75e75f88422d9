#include "stars/frame_kind.h"

#include "base/least_squares.h"
#include "base/median.h"
#include "base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { COLUMNS = 12, ROWS = 8, ZONES = COLUMNS * ROWS, SAMPLES = 300000, SURFACE = 6 };

/* What decides, each a ratio without a unit. Found on rendered frames and real photographs. */
static const double star_snr = 10;        /* noise and hot pixels in a JPEG reach 10 */
static const int few_stars = 3;           /* as many may be hot pixels side by side */
static const double dark_relief = 0.15;   /* of the noise: vignetted skies have more */
static const double dark_level = 0.25;    /* of full scale: the highest black levels have less */
static const double flat_level = 0.05;    /* of full scale, least */
static const double flat_rough = 0.02;    /* of the level, most */
static const double flat_noise = 0.1;     /* of the level, most */
static const double full_share = 0.9;     /* of the pixels */
static const double scene_rough = 0.5;    /* of the level, least */
static const int scene_stars = 100;       /* most: roofs and lamps have some */
static const double scene_level = 0.12;   /* of full scale, least */
static const double bias_exposure = 1e-3; /* seconds, most */

struct zone {
    double sum, count;
};

/* Samples of the plane, each with the size of its difference from its neighbour (-1: none), which
 * tells the noise whatever the picture shows on a larger scale. */
struct sample {
    double *value, *difference;
    int *place; /* the zone that the value lies in */
    int count;
};

static void sample_free(struct sample *sample)
{
    free(sample->value);
    free(sample->difference);
    free(sample->place);
}

static int sample_take(struct sample *sample, const struct plane *plane, struct error *err)
{
    size_t pixels = (size_t)plane->width * (size_t)plane->height;
    size_t step = pixels / SAMPLES + 1, most = pixels / step + 1;
    sample->value = malloc(most * sizeof *sample->value);
    sample->difference = malloc(most * sizeof *sample->difference);
    sample->place = malloc(most * sizeof *sample->place);
    if (!sample->value || !sample->difference || !sample->place) {
        return error_memory(err);
    }
    for (size_t at = step / 2; at < pixels; at += step) {
        int x = (int)(at % (size_t)plane->width), y = (int)(at / (size_t)plane->width);
        double v = (double)plane->value[at];
        if (!isfinite(v)) {
            continue;
        }
        sample->place[sample->count] =
            y * ROWS / plane->height * COLUMNS + x * COLUMNS / plane->width;
        bool paired = x + 1 < plane->width && isfinite(plane->value[at + 1]);
        sample->difference[sample->count] = paired ? fabs((double)plane->value[at + 1] - v) : -1;
        sample->value[sample->count++] = v;
    }
    return 0;
}

/* Means of the zones without what is far from the frame's level for its noise, on which whole
 * numbers of few bits don't jump as medians would. */
static int zone_levels(double *level, int *where, const struct sample *sample, double noise)
{
    struct zone zone[ZONES] = {{0}};
    double middle[ZONES];
    int n = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < ZONES; i++) {
            middle[i] = zone[i].count > 0 ? zone[i].sum / zone[i].count : 0;
            zone[i] = (struct zone){0};
        }
        for (int i = 0; i < sample->count; i++) {
            struct zone *z = &zone[sample->place[i]];
            if (pass == 0 || fabs(sample->value[i] - middle[sample->place[i]]) <= 3 * noise) {
                z->sum += sample->value[i];
                z->count++;
            }
        }
    }
    for (int i = 0; i < ZONES; i++) {
        if (zone[i].count > 0) {
            level[n] = zone[i].sum / zone[i].count;
            where[n++] = i;
        }
    }
    return n;
}

/* rms of the zones about the surface of second order that fits them best: what a lens does to even
 * light is nearly one. */
static double roughness(const double *level, const int *where, int n)
{
    struct least_squares ls = {.n = SURFACE};
    double row[ZONES][SURFACE], c[SURFACE], sum = 0;
    for (int i = 0; i < n; i++) {
        double x = 2.0 * (where[i] % COLUMNS) / (COLUMNS - 1) - 1;
        double y = 2.0 * (where[i] / COLUMNS) / (ROWS - 1) - 1;
        const double terms[SURFACE] = {1, x, y, x * x, x * y, y * y};
        memcpy(row[i], terms, sizeof terms);
        least_squares_add(&ls, terms, level[i], 1);
    }
    if (n < 2 * SURFACE || !least_squares_solve(c, NULL, &ls)) {
        return 0;
    }
    for (int i = 0; i < n; i++) {
        double rest = level[i];
        for (int k = 0; k < SURFACE; k++) {
            rest -= c[k] * row[i][k];
        }
        sum += rest * rest;
    }
    return sqrt(sum / n);
}

/* The smallest difference that there is: the step of the values, if these are few; 0 if all are
 * alike. */
static double step_of(const struct sample *sample)
{
    double least = (double)INFINITY;
    for (int i = 0; i < sample->count; i++) {
        if (sample->difference[i] > 0) {
            least = fmin(least, sample->difference[i]);
        }
    }
    return isfinite(least) ? least : 0;
}

/* The mean size of a normal difference is 2 / sqrt(pi) deviations; stars and edges are left out. A
 * mean, since medians of whole numbers of few bits jump. */
static double noise_of(const struct sample *sample)
{
    double mean = (double)INFINITY, step = step_of(sample);
    for (int pass = 0; pass < 4; pass++) {
        double sum = 0, most = fmax(5 * mean, 3 * step);
        int n = 0;
        for (int i = 0; i < sample->count; i++) {
            if (sample->difference[i] >= 0 && sample->difference[i] <= most) {
                sum += sample->difference[i];
                n++;
            }
        }
        mean = n > 0 ? sum / n : 0;
    }
    return mean * sqrt(PI) / 2;
}

/* Median of some thousand, and between whole numbers by the mean of all that are near it. */
static int level_of(double *level, const struct sample *sample, double noise, struct error *err)
{
    int step = sample->count / 20000 + 1, n = 0, near = 0;
    double *some = malloc(((size_t)sample->count / (size_t)step + 1) * sizeof *some), sum = 0;
    if (!some) {
        return error_memory(err);
    }
    for (int i = step / 2; i < sample->count; i += step) {
        some[n++] = sample->value[i];
    }
    double middle = median_of(some, n);
    for (int i = 0; i < sample->count; i++) {
        if (fabs(sample->value[i] - middle) <= 2.5 * noise) {
            sum += sample->value[i] - middle;
            near++;
        }
    }
    *level = near > 0 ? middle + sum / near : middle;
    free(some);
    return 0;
}

static int measure(struct frame_look *look, const struct sample *sample, struct error *err)
{
    double level[ZONES], full = look->full > 0 ? 0.985 * look->full : (double)INFINITY;
    int where[ZONES], ends = 0;
    for (int i = 0; i < sample->count; i++) {
        ends += sample->value[i] >= full;
    }
    look->full_share = (double)ends / sample->count;
    look->noise = noise_of(sample);
    int zones = zone_levels(level, where, sample, look->noise);
    look->rough = roughness(level, where, zones);
    double high = median_quantile(level, zones, 0.9), low = median_quantile(level, zones, 0.1);
    look->relief = high - low;
    return level_of(&look->level, sample, look->noise, err);
}

static bool is_flat(const struct frame_look *look)
{
    return look->full > 0 && look->level > flat_level * look->full &&
           look->rough < flat_rough * look->level && look->noise < flat_noise * look->level;
}

static bool is_dark(const struct frame_look *look)
{
    return look->relief < dark_relief * look->noise &&
           !(look->full > 0 && look->level > dark_level * look->full);
}

static enum frame_kind judge(const struct frame_look *look, const struct fact *exposure)
{
    bool starless = look->stars <= few_stars;
    if (look->full_share > full_share) {
        return KIND_FULL;
    }
    if (starless && is_dark(look)) {
        bool brief = exposure->origin != FACT_UNKNOWN && exposure->value <= bias_exposure;
        return brief ? KIND_BIAS : KIND_DARK;
    }
    if (starless && is_flat(look)) {
        return KIND_FLAT;
    }
    bool lit = look->full > 0 && look->level > scene_level * look->full;
    bool coarse = look->rough > scene_rough * look->level && look->stars <= scene_stars;
    if (lit && coarse) {
        return KIND_SCENE;
    }
    return starless ? KIND_STARLESS : KIND_LIGHT;
}

bool frame_kind_hopeless(enum frame_kind kind)
{
    return kind != KIND_LIGHT && kind != KIND_STARLESS && kind != KIND_SCENE;
}

int frame_look_at(struct frame_look *look, const struct frame *frame, const struct star_list *list,
                  struct error *err)
{
    struct sample sample = {0};
    *look = (struct frame_look){.full = (double)frame->luminance.full};
    int code = frame->luminance.value ? sample_take(&sample, &frame->luminance, err) : 0;
    if (!code && sample.count > 0) {
        code = measure(look, &sample, err);
        for (int i = 0; i < list->count; i++) {
            look->stars += list->star[i].snr > star_snr;
        }
        look->kind = judge(look, &frame->facts.exposure_s);
    }
    /* A sky rounded to few bits has no noise either, but stars. */
    bool alike = sample.count == 0 || (look->noise == 0 && look->relief == 0);
    if (!code && alike && list->count == 0 && look->kind != KIND_FULL) {
        look->kind = KIND_EMPTY;
    }
    sample_free(&sample);
    return code;
}
