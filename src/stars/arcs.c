#include "stars/arcs.h"

#include "base/least_squares.h"
#include "base/median.h"
#include "stars/islands.h"
#include "stars/relief.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    SIDE = 2000,      /* pixels along the reduced plane's longer side, most */
    MESH = 32,        /* of its sky */
    LEAST_AREA = 16,  /* of an island that is looked at */
    STEPS_MOST = 4096 /* along an arc */
};

/* In the noise of a smoothed pixel: a line's light is spread over many, so that each may be faint.
 */
static const float shore = 3.0F, peak = 5.5F;

static const double least_length = 8;     /* reduced pixels */
static const double thin_share = 1.0 / 6; /* width, or what it bends, over length, most */
static const double widest_px = 5;        /* rms beside its middle line, reduced pixels */
static const double smooth_px = 1;        /* rms width of the filter */

/* Means of by x by pixels of a plane. ERROR_MEMORY. */
static int reduce(struct plane *out, const struct plane *plane, struct error *err)
{
    int longer = plane->width > plane->height ? plane->width : plane->height;
    int by = (longer + SIDE - 1) / SIDE;
    *out = (struct plane){.width = plane->width / by,
                          .height = plane->height / by,
                          .bin = plane->bin * by,
                          .full = plane->full};
    out->value = malloc((size_t)out->width * (size_t)out->height * sizeof *out->value);
    if (!out->value) {
        return error_memory(err);
    }
    for (int y = 0; y < out->height; y++) {
        float *to = out->value + (size_t)y * (size_t)out->width;
        memset(to, 0, (size_t)out->width * sizeof *to);
        for (int j = 0; j < by; j++) {
            const float *from = plane->value + (size_t)(y * by + j) * (size_t)plane->width;
            for (int x = 0; x < out->width * by; x++) {
                to[x / by] += from[x];
            }
        }
        for (int x = 0; x < out->width; x++) {
            to[x] /= (float)(by * by);
        }
    }
    return 0;
}

/* An island, and the axis that it lies along. */
struct shape_of_island {
    const int *pixel;
    const float *level;
    int pixels, width; /* of the reduced plane */
    double x, y;       /* its centre of light */
    double along_x, along_y;
    double bend[3]; /* beside that axis by bend[0] + bend[1] u + bend[2] u^2, u along it */
    double rms;     /* of its pixels about that line */
};

static void find_axis(struct shape_of_island *s)
{
    double sum = 0, xx = 0, xy = 0, yy = 0;
    s->x = s->y = 0;
    for (int i = 0; i < s->pixels; i++) {
        sum += (double)s->level[i];
        s->x += (double)s->level[i] * (s->pixel[i] % s->width);
        s->y += (double)s->level[i] * (s->pixel[i] / s->width);
    }
    s->x /= sum;
    s->y /= sum;
    for (int i = 0; i < s->pixels; i++) {
        double dx = s->pixel[i] % s->width - s->x, dy = s->pixel[i] / s->width - s->y;
        xx += dx * dx;
        xy += dx * dy;
        yy += dy * dy;
    }
    double angle = 0.5 * atan2(2 * xy, xx - yy);
    s->along_x = cos(angle);
    s->along_y = sin(angle);
}

/* On its own axes. */
static void turned(double *u, double *w, const struct shape_of_island *s, int i)
{
    double dx = s->pixel[i] % s->width - s->x, dy = s->pixel[i] / s->width - s->y;
    *u = dx * s->along_x + dy * s->along_y;
    *w = dy * s->along_x - dx * s->along_y;
}

static bool find_bend(struct shape_of_island *s)
{
    struct least_squares ls = {.n = 3};
    double sum = 0, weights = 0, u, w;
    for (int i = 0; i < s->pixels; i++) {
        turned(&u, &w, s, i);
        const double row[3] = {1, u / 100, u * u / 1e4};
        least_squares_add(&ls, row, w, (double)s->level[i]);
    }
    if (!least_squares_solve(s->bend, NULL, &ls)) {
        return false;
    }
    s->bend[1] /= 100;
    s->bend[2] /= 1e4;
    for (int i = 0; i < s->pixels; i++) {
        turned(&u, &w, s, i);
        double off = w - (s->bend[0] + (s->bend[1] + s->bend[2] * u) * u);
        sum += (double)s->level[i] * off * off;
        weights += (double)s->level[i];
    }
    s->rms = sqrt(sum / weights);
    return true;
}

/* The highest level at each step along the axis; returns how many steps there are. */
static int find_ridge(float *ridge, double *start, const struct shape_of_island *s)
{
    double low = INFINITY, high = -INFINITY, u, w;
    for (int i = 0; i < s->pixels; i++) {
        turned(&u, &w, s, i);
        low = fmin(low, u);
        high = fmax(high, u);
    }
    int steps = (int)(high - low) + 1;
    if (steps < 1 || steps > STEPS_MOST) {
        return 0;
    }
    *start = low;
    memset(ridge, 0, (size_t)steps * sizeof *ridge);
    for (int i = 0; i < s->pixels; i++) {
        turned(&u, &w, s, i);
        int step = (int)(u - low);
        ridge[step] = s->level[i] > ridge[step] ? s->level[i] : ridge[step];
    }
    return steps;
}

/* Where the ridge first rises to half of what it usually is, seen from one end, in steps. */
static double find_end(const float *ridge, int steps, int from, int way, double half)
{
    double before = 0;
    for (int i = from; i >= 0 && i < steps; i += way) {
        double here = (double)ridge[i];
        if (here >= half) {
            double part = here > before ? (half - before) / (here - before) : 1;
            return i + 0.5 + way * (part - 1);
        }
        before = here;
    }
    return from;
}

static void place(double *x, double *y, const struct shape_of_island *s, double u, double bin)
{
    double w = s->bend[0] + (s->bend[1] + s->bend[2] * u) * u;
    *x = (s->x + u * s->along_x - w * s->along_y) * bin + (bin - 1) / 2;
    *y = (s->y + u * s->along_y + w * s->along_x) * bin + (bin - 1) / 2;
}

static bool measure(struct arc *arc, struct shape_of_island *s, double bin)
{
    float ridge[STEPS_MOST];
    double some[STEPS_MOST], start = 0;
    find_axis(s);
    int steps = find_bend(s) && s->rms < widest_px ? find_ridge(ridge, &start, s) : 0;
    if (steps < least_length || s->rms > thin_share * steps ||
        fabs(s->bend[2]) * steps * steps / 4 > thin_share * steps) {
        return false;
    }
    for (int i = 0; i < steps; i++) {
        some[i] = (double)ridge[i];
    }
    double half = median_of(some, steps) / 2;
    double end[2] = {start + find_end(ridge, steps, 0, 1, half),
                     start + find_end(ridge, steps, steps - 1, -1, half)};
    if (!(end[1] - end[0] >= least_length)) {
        return false;
    }
    *arc = (struct arc){.length = (end[1] - end[0]) * bin};
    for (int k = 0; k < 2; k++) {
        place(&arc->x[k], &arc->y[k], s, end[k], bin);
    }
    place(&arc->middle_x, &arc->middle_y, s, (end[0] + end[1]) / 2, bin);
    for (int i = 0; i < s->pixels; i++) {
        arc->light += (double)s->level[i];
    }
    return true;
}

static int find_in(struct arc_list *list, const struct plane *plane, struct error *err)
{
    const struct profile round = {smooth_px * smooth_px, 0, smooth_px * smooth_px};
    struct relief r = {0};
    struct islands found = {0};
    int code = relief_make(&r, plane, &round, 1, err);
    code = code ? code : relief_flatten(&r, MESH, 1, err);
    code = code ? code : islands_find(&found, &r, shore, peak, LEAST_AREA, 1, err);
    list->arc = code ? NULL : malloc(ARCS_MOST * sizeof *list->arc);
    if (!code && !list->arc) {
        code = error_memory(err);
    }
    for (size_t i = 0; !code && i < found.count && list->count < ARCS_MOST; i++) {
        const struct island *island = &found.island[i];
        struct shape_of_island s = {.pixel = found.pixel + island->first,
                                    .level = found.level + island->first,
                                    .pixels = island->pixels,
                                    .width = plane->width};
        list->count += measure(&list->arc[list->count], &s, plane->bin);
    }
    islands_free(&found);
    relief_free(&r);
    return code;
}

int arcs_find(struct arc_list *list, const struct frame *frame, struct error *err)
{
    const struct plane *plane = &frame->luminance;
    struct plane small = {0};
    *list = (struct arc_list){.width = (double)plane->width * plane->bin,
                              .height = (double)plane->height * plane->bin};
    if (plane->width < 4 * MESH || plane->height < 4 * MESH) {
        return 0;
    }
    int code = reduce(&small, plane, err);
    list->error_px = 0.7 * small.bin;
    code = code ? code : find_in(list, &small, err);
    free(small.value);
    return code;
}

void arc_list_free(struct arc_list *list)
{
    free(list->arc);
    *list = (struct arc_list){0};
}
