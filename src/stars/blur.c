#include "stars/blur.h"

#include "base/median.h"
#include "base/units.h"
#include "stars/background.h"
#include "stars/gaussian.h"

#include <math.h>
#include <stdlib.h>

#define MOST_SPOTS 20000
#define USED_SPOTS 400
#define LEAST_SPOTS 5
#define WINDOW 9 /* half-side of the box that moments are taken in, pixels */
#define MESH 64
#define TILE_WIDTH 64
#define TILE_HEIGHT 16
#define BRIGHT 8.0 /* a spot's height over the noise of a pixel */

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
                     m.xx + m.yy < 60 && hypot(x - px, y - py) < 4;
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

static int search_tile(struct spot *spot, int n, const struct plane *plane, const struct tile *t)
{
    double full = plane->full > 0 ? 0.9 * (double)plane->full : INFINITY;
    float limit = (float)(t->sky + BRIGHT * t->noise);
    for (int y = t->upper; y < t->lower; y++) {
        const float *row = plane->value + (size_t)y * (size_t)plane->width;
        if (!reaches(row + t->left, t->right - t->left, limit)) {
            continue;
        }
        for (int x = t->left; x < t->right && n < MOST_SPOTS; x++) {
            if (row[x] > limit && is_spot(row + x, plane->width, t->sky, full)) {
                double height = ((double)row[x] - t->sky) / fmax(t->noise, 1e-30);
                spot[n++] = (struct spot){height, t->sky, x, y};
            }
        }
    }
    return n;
}

static int find_spots(struct spot *spot, const struct plane *plane, const struct background *b)
{
    int n = 0, end_x = plane->width - WINDOW, end_y = plane->height - WINDOW;
    for (int y = WINDOW; y < end_y; y += TILE_HEIGHT) {
        for (int x = WINDOW; x < end_x; x += TILE_WIDTH) {
            struct tile t = {x,
                             y,
                             x + TILE_WIDTH < end_x ? x + TILE_WIDTH : end_x,
                             y + TILE_HEIGHT < end_y ? y + TILE_HEIGHT : end_y,
                             background_level(b, x + TILE_WIDTH / 2, y + TILE_HEIGHT / 2),
                             background_noise(b, x + TILE_WIDTH / 2, y + TILE_HEIGHT / 2)};
            n = search_tile(spot, n, plane, &t);
        }
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
    double angle = profile_angle_deg(p) * RAD_PER_DEG;
    double dx = 2 * WINDOW * cos(angle), dy = 2 * WINDOW * sin(angle);
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

static void take_medians(struct profile *p, const struct plane *plane, const struct spot *spot,
                         int spots)
{
    double xx[USED_SPOTS], xy[USED_SPOTS], yy[USED_SPOTS];
    int n = 0;
    int tries = 0;
    for (int i = 0; i < spots && tries < 2 * USED_SPOTS && n < USED_SPOTS; i++) {
        struct profile q;
        bool fits = blur_fit(&q, plane, spot[i].sky, spot[i].x, spot[i].y);
        bool line = fits && is_on_line(plane, &spot[i], &q);
        tries += !line;
        if (fits && !line) {
            xx[n] = q.xx;
            xy[n] = q.xy;
            yy[n++] = q.yy;
        }
    }
    if (n >= LEAST_SPOTS) {
        struct profile middle = {median_of(xx, n), median_of(xy, n), median_of(yy, n)};
        *p = profile_clamp(middle);
    }
}

int blur_measure(struct profile *p, const struct plane *plane, struct error *err)
{
    *p = profile_usual();
    struct background b;
    int code =
        background_measure(&b, plane->value, plane->width, plane->height, MESH, 5, 1, 1, err);
    if (code) {
        return code;
    }
    struct spot *spot = malloc(MOST_SPOTS * sizeof *spot);
    if (spot) {
        int n = find_spots(spot, plane, &b);
        qsort(spot, (size_t)n, sizeof *spot, by_height);
        take_medians(p, plane, spot, n);
    } else {
        code = error_memory(err);
    }
    free(spot);
    background_free(&b);
    return code;
}
