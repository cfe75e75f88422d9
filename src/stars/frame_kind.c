#include "stars/frame_kind.h"

#include "base/least_squares.h"
#include "base/median.h"
#include "base/prefetch.h"
#include "base/units.h"
#include "base/wider.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    COLUMNS = 12,
    ROWS = 8,
    ZONES = COLUMNS * ROWS,
    SAMPLES = 300000,
    AHEAD = 16,
    LANES = 4,
    SURFACE = 6
};

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
 * tells the noise whatever the picture shows on a larger scale. What can be had of them in passing
 * is: the passes over them are what takes the time. */
struct sample {
    float *value, *difference;
    unsigned char *place; /* the zone that the value lies in */
    int count;
    struct zone zone[ZONES]; /* of all values */
    struct zone differences; /* of all that there are */
    float least_difference;  /* above 0; infinite if there is none */
};

static void sample_free(struct sample *sample)
{
    free(sample->value);
    free(sample->difference);
    free(sample->place);
}

/* Every step-th pixel of a row from x to end, all in one zone; each has a neighbour to its right.
 * Sums stay in registers meanwhile. False if data are missing; then nothing has changed. */
static bool sample_whole(struct sample *sample, const float *row, int place, size_t *x, size_t end,
                         size_t step)
{
    struct zone zone = sample->zone[place], differences = sample->differences;
    float least = sample->least_difference, *value = sample->value + sample->count;
    float *difference = sample->difference + sample->count;
    size_t at = *x, n = 0;
    float gaps = 0; /* NaN once there was one */
    for (; at < end; at += step) {
        prefetch(row + at + AHEAD * step);
        float v = row[at], d = fabsf(row[at + 1] - v);
        gaps += d - d;
        value[n] = v;
        difference[n++] = d;
        zone.sum += (double)v;
        differences.sum += (double)d;
        least = d > 0 && d < least ? d : least;
    }
    if (isnan(gaps)) {
        return false;
    }
    memset(sample->place + sample->count, place, n);
    zone.count += (double)n;
    differences.count += (double)n;
    sample->zone[place] = zone;
    sample->differences = differences;
    sample->least_difference = least;
    sample->count += (int)n;
    *x = at;
    return true;
}

/* The same wherever data are missing. Returns the next x. */
static size_t sample_zone(struct sample *sample, const float *row, size_t width, int place,
                          size_t x, size_t end, size_t step)
{
    sample_whole(sample, row, place, &x, end < width ? end : width - 1, step);
    for (; x < end; x += step) {
        if (!isfinite(row[x])) {
            continue;
        }
        bool paired = x + 1 < width && isfinite(row[x + 1]);
        float difference = paired ? fabsf(row[x + 1] - row[x]) : -1;
        sample->place[sample->count] = (unsigned char)place;
        sample->difference[sample->count] = difference;
        sample->value[sample->count++] = row[x];
        sample->zone[place].sum += (double)row[x];
        sample->zone[place].count++;
        if (paired) {
            float least = sample->least_difference;
            sample->differences.sum += (double)difference;
            sample->differences.count++;
            sample->least_difference = difference > 0 && difference < least ? difference : least;
        }
    }
    return x;
}

/* Every step-th pixel of a row from x on; returns the x in the next row. */
static size_t sample_row(struct sample *sample, const struct plane *plane, int y, size_t x,
                         size_t step)
{
    size_t width = (size_t)plane->width;
    const float *row = plane->value + (size_t)y * width;
    int first = y * ROWS / plane->height * COLUMNS;
    for (size_t column = 0; column < COLUMNS; column++) {
        size_t end = ((column + 1) * width + COLUMNS - 1) / COLUMNS;
        x = sample_zone(sample, row, width, first + (int)column, x, end, step);
    }
    return x - width;
}

static int sample_take(struct sample *sample, const struct plane *plane, struct error *err)
{
    size_t pixels = (size_t)plane->width * (size_t)plane->height;
    size_t step = pixels / SAMPLES + 1, most = pixels / step + 1, x = step / 2;
    sample->value = malloc(most * sizeof *sample->value);
    sample->difference = malloc(most * sizeof *sample->difference);
    sample->place = malloc(most * sizeof *sample->place);
    sample->least_difference = INFINITY;
    if (!sample->value || !sample->difference || !sample->place) {
        return error_memory(err);
    }
    for (int y = 0; y < plane->height; y++) {
        x = sample_row(sample, plane, y, x, step);
    }
    return 0;
}

static double mean_of(const struct zone *zone)
{
    return zone->count > 0 ? zone->sum / zone->count : 0;
}

/* Adds the differences from 0 to most in lanes, lest each wait for the one before; n is a multiple
 * of them. */
static PLAIN void sum_near_plain(double lane[restrict LANES], const float *restrict d, int n,
                                 float most)
{
    double a = 0, b = 0, c = 0, e = 0;
    for (int i = 0; i < n; i += LANES) {
        a += (double)(d[i] >= 0 && d[i] <= most ? d[i] : 0);
        b += (double)(d[i + 1] >= 0 && d[i + 1] <= most ? d[i + 1] : 0);
        c += (double)(d[i + 2] >= 0 && d[i + 2] <= most ? d[i + 2] : 0);
        e += (double)(d[i + 3] >= 0 && d[i + 3] <= most ? d[i + 3] : 0);
    }
    lane[0] = a;
    lane[1] = b;
    lane[2] = c;
    lane[3] = e;
}

WIDER(sum_near, (double lane[restrict LANES], const float *restrict d, int n, float most),
      (lane, d, n, most))

static PLAIN void count_near_plain(int *count, const float *restrict d, int n, float most)
{
    int near = 0;
    for (int i = 0; i < n; i++) {
        near += (d[i] >= 0) & (d[i] <= most);
    }
    *count = near;
}

WIDER(count_near, (int *count, const float *restrict d, int n, float most), (count, d, n, most))

/* Of the differences from 0 to most. */
static struct zone near_differences(const struct sample *sample, float most)
{
    double lane[LANES];
    const float *d = sample->difference;
    int whole = sample->count - sample->count % LANES, count;
    sum_near(lane, d, whole, most);
    for (int i = whole; i < sample->count; i++) {
        lane[0] += (double)(d[i] >= 0 && d[i] <= most ? d[i] : 0);
    }
    count_near(&count, d, sample->count, most);
    return (struct zone){lane[0] + lane[1] + lane[2] + lane[3], count};
}

/* The mean size of a normal difference is 2 / sqrt(pi) deviations; stars and edges are left out. A
 * mean, since medians of whole numbers of few bits jump; at least some steps of such numbers, the
 * smallest difference that there is, stay in. */
static double noise_of(const struct sample *sample)
{
    float least = sample->least_difference;
    double mean = mean_of(&sample->differences), step = isfinite(least) ? (double)least : 0;
    for (int pass = 0; pass < 3; pass++) {
        struct zone near = near_differences(sample, (float)fmax(5 * mean, 3 * step));
        mean = mean_of(&near);
    }
    return mean * sqrt(PI) / 2;
}

/* Adds the samples within so much of their zone's middle. Those of one zone come in runs. */
static void add_to_zones(struct zone *zone, const struct sample *sample, const double *middle,
                         double most)
{
    for (int i = 0; i < sample->count;) {
        int place = sample->place[i];
        struct zone z = zone[place];
        for (; i < sample->count && sample->place[i] == place; i++) {
            double v = (double)sample->value[i];
            if (fabs(v - middle[place]) <= most) {
                z.sum += v;
                z.count++;
            }
        }
        zone[place] = z;
    }
}

/* Means of the zones without what is far from the frame's level for its noise, on which whole
 * numbers of few bits don't jump as medians would. */
static int zone_levels(double *level, int *where, const struct sample *sample, double noise)
{
    struct zone zone[ZONES] = {{0}};
    double middle[ZONES];
    int n = 0;
    for (int i = 0; i < ZONES; i++) {
        middle[i] = mean_of(&sample->zone[i]);
    }
    add_to_zones(zone, sample, middle, 3 * noise);
    for (int i = 0; i < ZONES; i++) {
        if (zone[i].count > 0) {
            level[n] = mean_of(&zone[i]);
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

/* Median of some thousand, and between whole numbers by the mean of all that are near it. */
static int level_of(double *level, const struct sample *sample, double noise, struct error *err)
{
    int step = sample->count / 20000 + 1, n = 0, near = 0;
    double *some = malloc(((size_t)sample->count / (size_t)step + 1) * sizeof *some), sum = 0;
    if (!some) {
        return error_memory(err);
    }
    for (int i = step / 2; i < sample->count; i += step) {
        some[n++] = (double)sample->value[i];
    }
    double middle = median_of(some, n);
    for (int i = 0; i < sample->count; i++) {
        double off = (double)sample->value[i] - middle;
        if (fabs(off) <= 2.5 * noise) {
            sum += off;
            near++;
        }
    }
    *level = near > 0 ? middle + sum / near : middle;
    free(some);
    return 0;
}

/* How many values are as high as that. */
static PLAIN void count_high_plain(int *count, const float *restrict value, int n, double least)
{
    int high = 0;
    for (int i = 0; i < n; i++) {
        high += (double)value[i] >= least;
    }
    *count = high;
}

WIDER(count_high, (int *count, const float *restrict value, int n, double least),
      (count, value, n, least))

/* Of pixels of the plane that are cut to 0, lone ones beside brighter ones: with so many the mean
 * of a sky is raised by a fiftieth of its noise, and so is what sums of many pixels make of it. A
 * mean of bin x bin is 0 if all are. */
static bool is_clipped(const struct sample *sample, int bin)
{
    const double pixel_share = 0.05, least_share = 1e-4;
    int lone = 0;
    for (int i = 0; i < sample->count; i++) {
        if (sample->value[i] < 0) {
            return false;
        }
        lone += sample->value[i] <= 0 && sample->difference[i] > 0;
    }
    return lone > sample->count * fmax(pow(pixel_share, bin * bin), least_share);
}

static int measure(struct frame_look *look, const struct sample *sample, struct error *err)
{
    double level[ZONES], full = look->full > 0 ? 0.985 * look->full : (double)INFINITY;
    int where[ZONES], ends;
    count_high(&ends, sample->value, sample->count, full);
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
        look->clipped = is_clipped(&sample, frame->luminance.bin);
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
