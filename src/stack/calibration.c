#include "stack/calibration.h"

#include "base/large.h"
#include "base/median.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Exposures that count as the same. */
static const double same_exposure = 0.05;
/* What is darker than this share of the flat's median has no light worth dividing by. */
static const float least_flat = 0.05F;
enum { SORTED = 20000 };

void calibration_free(struct calibration *c)
{
    free(c->dark);
    free(c->flat);
    memset(c, 0, sizeof *c);
}

static bool fits(const struct calibration *c, const struct plane *plane)
{
    return c->width == plane->width && c->height == plane->height;
}

static bool same_settings(const struct calibration *c, double exposure_s, double iso)
{
    return c->darks > 0 &&
           fabs(exposure_s - c->dark_exposure_s) <= same_exposure * c->dark_exposure_s &&
           (!(iso > 0) || !(c->dark_iso > 0) || iso == c->dark_iso);
}

/* Makes room for the first frame of a kind. */
static int make_room(float **mean, struct calibration *c, const struct plane *plane,
                     struct error *err)
{
    if (!c->width) {
        c->width = plane->width;
        c->height = plane->height;
    }
    if (*mean || !fits(c, plane)) {
        return 0;
    }
    size_t n = (size_t)plane->width * (size_t)plane->height;
    *mean = large_alloc(n * sizeof **mean);
    for (size_t i = 0; *mean && i < n; i++) {
        (*mean)[i] = 0;
    }
    return *mean ? 0 : error_memory(err);
}

/* count: with this one. */
static void add_mean(float *mean, const struct plane *plane, float black, float scale, int count)
{
    float share = 1 / (float)count;
    for (size_t i = 0; i < (size_t)plane->width * (size_t)plane->height; i++) {
        mean[i] += ((plane->value[i] - black) * scale - mean[i]) * share;
    }
}

/* NaN: out of memory. */
static double find_median(const struct plane *plane)
{
    size_t n = (size_t)plane->width * (size_t)plane->height, step = n / SORTED + 1;
    double *sorted = malloc(SORTED * sizeof *sorted), median = NAN;
    int count = 0;
    for (size_t i = 0; sorted && i < n && count < SORTED; i += step) {
        if (plane->value[i] - plane->value[i] == 0) {
            sorted[count++] = (double)plane->value[i];
        }
    }
    if (sorted) {
        median = median_of(sorted, count);
    }
    free(sorted);
    return median;
}

int calibration_add_dark(bool *used, struct calibration *c, const struct plane *plane,
                         double exposure_s, double iso, struct error *err)
{
    int code = make_room(&c->dark, c, plane, err);
    *used = !code && fits(c, plane) && (c->darks == 0 || same_settings(c, exposure_s, iso));
    double level = *used ? find_median(plane) : 0;
    if (isnan(level)) {
        *used = false;
        return error_memory(err);
    }
    if (*used) {
        c->dark_exposure_s = exposure_s;
        c->dark_iso = iso;
        add_mean(c->dark, plane, 0, 1, ++c->darks);
        c->dark_level += (level - c->dark_level) / c->darks;
    }
    return code;
}

int calibration_add_flat(bool *used, struct calibration *c, const struct plane *plane, double black,
                         struct error *err)
{
    double level = find_median(plane) - black;
    int code = isnan(level) ? error_memory(err) : make_room(&c->flat, c, plane, err);
    *used = !code && level > 0 && fits(c, plane);
    if (*used) {
        add_mean(c->flat, plane, (float)black, (float)(1 / level), ++c->flats);
    }
    return code;
}

void calibration_apply(bool *dark, bool *flat, struct plane *plane, const struct calibration *c,
                       double exposure_s, double iso, bool black_known)
{
    size_t n = (size_t)plane->width * (size_t)plane->height;
    *dark = fits(c, plane) && same_settings(c, exposure_s, iso);
    *flat = fits(c, plane) && c->flats > 0 && (black_known || *dark);
    for (size_t i = 0; *dark && i < n; i++) {
        plane->value[i] -= c->dark[i];
    }
    for (size_t i = 0; *flat && i < n; i++) {
        plane->value[i] = c->flat[i] > least_flat ? plane->value[i] / c->flat[i] : NAN;
    }
}
