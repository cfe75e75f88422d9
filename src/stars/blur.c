#include "stars/blur.h"

#include "base/elementary.h"
#include "base/median.h"
#include "base/parallel.h"
#include "stars/background.h"
#include "stars/gaussian.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WINDOW 9 /* half-side of the box that moments are taken in, pixels */
#define MESH 64
#define BRIGHT 8.0 /* a spot's height over the noise of a pixel */

enum { BANDS = 16, SPOTS_OF_BAND = 2000, TILE_WIDTH = 64, TILE_HEIGHT = 16 };
enum { USED_SPOTS = 240, LEAST_SPOTS = 5, BATCH = 40 };

struct spot {
    double height; /* over the noise */
    double sky;
    int x, y;
};

/* Sums under a Gaussian weight about (x, y). */
struct sums {
    double light, dx, dy, xx, xy, yy;
};

static struct sums weigh(const struct plane *plane, double sky, const struct profile *w, int px,
                         int py, double x, double y)
{
    struct sums s = {0};
    struct gaussian_grid grid;
    /* The place moves by less than four pixels. */
    gaussian_fill(&grid, w, x, y, WINDOW + 4, WINDOW + 4);
    for (int j = py - WINDOW; j <= py + WINDOW; j++) {
        const float *row = plane->value + (size_t)j * (size_t)plane->width;
        const double *weight = grid.value + (j - grid.upper) * grid.columns;
        double dy = j - y, light = 0, first = 0, second = 0;
        for (int i = px - WINDOW; i <= px + WINDOW; i++) {
            double dx = i - x, g = weight[i - grid.left] * ((double)row[i] - sky);
            light += g;
            first += g * dx;
            second += g * dx * dx;
        }
        s.light += light;
        s.dx += first;
        s.dy += light * dy;
        s.xx += second;
        s.xy += first * dy;
        s.yy += light * dy * dy;
    }
    return s;
}

bool blur_fit(struct profile *p, const struct plane *plane, double sky, int px, int py)
{
    if (px < WINDOW || py < WINDOW || px + WINDOW >= plane->width || py + WINDOW >= plane->height) {
        return false;
    }
    struct profile w = profile_usual();
    double x = px, y = py, change = 1;
    for (int step = 0; step < 12 && change > 0.01; step++) {
        struct sums s = weigh(plane, sky, &w, px, py, x, y);
        if (!(s.light > 0)) {
            return false;
        }
        double mx = s.dx / s.light, my = s.dy / s.light;
        /* Under a Gaussian weight of its own shape a Gaussian shows half its variance, and half of
         * its offset. */
        struct profile m = {2 * (s.xx / s.light - mx * mx), 2 * (s.xy / s.light - mx * my),
                            2 * (s.yy / s.light - my * my)};
        x += 2 * mx;
        y += 2 * my;
        bool sound = m.xx > 0.15 && m.yy > 0.15 && m.xx * m.yy > 1.02 * m.xy * m.xy &&
                     m.xx + m.yy < 60 && elementary_length(x - px, y - py) < 4;
        if (!sound) {
            return false;
        }
        change = fabs(m.xx - w.xx) + fabs(m.yy - w.yy) + fabs(m.xy - w.xy);
        w = m;
    }
    *p = w;
    return true;
}

/* A local maximum that is no lone hot pixel. */
static bool is_spot(const float *v, int width, double sky, double full)
{
    float side = fmaxf(fmaxf(v[-1], v[1]), fmaxf(v[-width], v[width]));
    return *v >= side && *v > v[1] && *v > v[width] && (double)*v < full &&
           (double)side - sky > 0.2 * ((double)*v - sky);
}

static bool reaches(const float *value, int n, float limit)
{
    int reached = 0;
    for (int i = 0; i < n; i++) {
        reached |= value[i] > limit;
    }
    return reached;
}

/* A part of the plane over which the sky is the same. */
struct tile {
    int left, upper, right, lower;
    double sky, noise;
};

/* A band of the plane has room for so many spots: what shows more is texture. */
struct band {
    struct spot *spot;
    int count;
};

struct search {
    const struct plane *plane;
    const struct background *sky;
    struct band band[BANDS];
};

static void search_tile(struct band *band, const struct plane *plane, const struct tile *t)
{
    double full = plane->full > 0 ? 0.9 * (double)plane->full : INFINITY;
    float limit = (float)(t->sky + BRIGHT * t->noise);
    for (int y = t->upper; y < t->lower; y++) {
        const float *row = plane->value + (size_t)y * (size_t)plane->width;
        if (!reaches(row + t->left, t->right - t->left, limit)) {
            continue;
        }
        for (int x = t->left; x < t->right && band->count < SPOTS_OF_BAND; x++) {
            if (row[x] > limit && is_spot(row + x, plane->width, t->sky, full)) {
                double height = ((double)row[x] - t->sky) / fmax(t->noise, 1e-30);
                band->spot[band->count++] = (struct spot){height, t->sky, x, y};
            }
        }
    }
}

static void search_band(int item, void *context)
{
    struct search *s = context;
    int rows = s->plane->height - 2 * WINDOW, end_x = s->plane->width - WINDOW;
    int from = WINDOW + (int)((long)rows * item / BANDS);
    int end = WINDOW + (int)((long)rows * (item + 1) / BANDS);
    for (int y = from; y < end; y += TILE_HEIGHT) {
        for (int x = WINDOW; x < end_x; x += TILE_WIDTH) {
            double middle_x = x + TILE_WIDTH / 2, middle_y = y + TILE_HEIGHT / 2;
            struct tile t = {x,
                             y,
                             x + TILE_WIDTH < end_x ? x + TILE_WIDTH : end_x,
                             y + TILE_HEIGHT < end ? y + TILE_HEIGHT : end,
                             background_level(s->sky, middle_x, middle_y),
                             background_noise(s->sky, middle_x, middle_y)};
            search_tile(&s->band[item], s->plane, &t);
        }
    }
}

/* spot: room for all bands. Returns how many there are. */
static int find_spots(struct spot *spot, const struct plane *plane, const struct background *b,
                      int threads)
{
    struct search search = {.plane = plane, .sky = b};
    int n = 0;
    for (int i = 0; i < BANDS; i++) {
        search.band[i].spot = spot + (size_t)i * SPOTS_OF_BAND;
    }
    parallel_each(plane->height > 2 * WINDOW ? BANDS : 0, threads, search_band, &search);
    for (int i = 0; i < BANDS; i++) {
        memmove(spot + n, search.band[i].spot, (size_t)search.band[i].count * sizeof *spot);
        n += search.band[i].count;
    }
    return n;
}

/* Whether there is light so far from a spot, as much as a part of it; so it is taken beyond the
 * plane. */
static bool is_lit(const struct plane *plane, const struct spot *spot, double dx, double dy)
{
    const double part = 0.4;
    int x = spot->x + (int)lround(dx), y = spot->y + (int)lround(dy);
    if (x < 1 || y < 1 || x >= plane->width - 1 || y >= plane->height - 1) {
        return true;
    }
    const float *v = plane->value + (size_t)y * (size_t)plane->width + x;
    double height =
        (double)plane->value[(size_t)spot->y * (size_t)plane->width + (size_t)spot->x] - spot->sky;
    float most = fmaxf(fmaxf(fmaxf(v[-1], v[1]), fmaxf(v[-plane->width], v[plane->width])), *v);
    return (double)most - spot->sky > part * height;
}

/* A satellite's line goes on beyond the box on both sides, and has a spot every few pixels: more of
 * them than the frame has stars. */
static bool is_on_line(const struct plane *plane, const struct spot *spot, const struct profile *p)
{
    double along_x, along_y;
    profile_axis(&along_x, &along_y, p);
    double dx = 2 * WINDOW * along_x, dy = 2 * WINDOW * along_y;
    return is_lit(plane, spot, dx, dy) && is_lit(plane, spot, -dx, -dy);
}

static int by_height(const void *left, const void *right)
{
    const struct spot *a = left, *b = right;
    if (a->height != b->height) {
        return a->height < b->height ? 1 : -1;
    }
    return a->y != b->y ? a->y - b->y : a->x - b->x;
}

enum fit_kind { NO_FIT, LINE, FIT };

/* The brightest of the spots that are not looked at yet, and what fits them. */
struct fits {
    const struct plane *plane;
    const struct spot *spot;
    struct profile profile[BATCH];
    enum fit_kind kind[BATCH];
};

static void fit_spot(int item, void *context)
{
    struct fits *f = context;
    const struct spot *spot = &f->spot[item];
    struct profile *p = &f->profile[item];
    bool fits = blur_fit(p, f->plane, spot->sky, spot->x, spot->y);
    f->kind[item] = !fits ? NO_FIT : is_on_line(f->plane, spot, p) ? LINE : FIT;
}

static void take_medians(struct profile *p, const struct plane *plane, const struct spot *spot,
                         int spots, int threads)
{
    double xx[USED_SPOTS], xy[USED_SPOTS], yy[USED_SPOTS];
    struct fits fits = {.plane = plane};
    int n = 0, tries = 0;
    for (int i = 0; i < spots && tries < 2 * USED_SPOTS && n < USED_SPOTS; i += BATCH) {
        int batch = spots - i < BATCH ? spots - i : BATCH;
        fits.spot = spot + i;
        parallel_each(batch, threads, fit_spot, &fits);
        for (int k = 0; k < batch && n < USED_SPOTS; k++) {
            tries += fits.kind[k] != LINE;
            if (fits.kind[k] == FIT) {
                xx[n] = fits.profile[k].xx;
                xy[n] = fits.profile[k].xy;
                yy[n++] = fits.profile[k].yy;
            }
        }
    }
    if (n >= LEAST_SPOTS) {
        struct profile middle = {median_of(xx, n), median_of(xy, n), median_of(yy, n)};
        *p = profile_clamp(middle);
    }
}

int blur_measure(struct profile *p, const struct plane *plane, int threads, struct error *err)
{
    *p = profile_usual();
    struct background b;
    int code = background_measure(&b, NULL, plane->value, plane->width, plane->height, MESH, 5,
                                  threads, err);
    if (code) {
        return code;
    }
    struct spot *spot = malloc((size_t)BANDS * SPOTS_OF_BAND * sizeof *spot);
    if (spot) {
        int n = find_spots(spot, plane, &b, threads);
        qsort(spot, (size_t)n, sizeof *spot, by_height);
        take_medians(p, plane, spot, n, threads);
    } else {
        code = error_memory(err);
    }
    free(spot);
    background_free(&b);
    return code;
}
