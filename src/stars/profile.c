#include "stars/profile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PI 3.14159265358979323846
#define MAX_REACH 16 /* half-length of a filter pass, pixels */

struct profile profile_usual(void)
{
    struct profile p = {1.2, 0, 1.2};
    return p;
}

void profile_widths(const struct profile *p, double *longer, double *shorter)
{
    double mean = (p->xx + p->yy) / 2;
    double half = hypot((p->xx - p->yy) / 2, p->xy);
    *longer = sqrt(fmax(mean + half, 0));
    *shorter = sqrt(fmax(mean - half, 0));
}

struct profile profile_clamp(struct profile p)
{
    const double least = 0.65, most = 3.5, most_long = 5;
    double longer, shorter;
    profile_widths(&p, &longer, &shorter);
    double angle = atan2(2 * p.xy, p.xx - p.yy) / 2;
    shorter = fmin(fmax(shorter, least), most);
    longer = fmin(fmax(longer, shorter), most_long);
    double c = cos(angle), s = sin(angle), a = longer * longer, b = shorter * shorter;
    struct profile clamped = {a * c * c + b * s * s, (a - b) * c * s, a * s * s + b * c * c};
    return clamped;
}

double profile_value(const struct profile *p, double dx, double dy)
{
    double det = p->xx * p->yy - p->xy * p->xy;
    double r2 = (p->yy * dx * dx - 2 * p->xy * dx * dy + p->xx * dy * dy) / det;
    return exp(-r2 / 2) / (2 * PI * sqrt(det));
}

static int fill_pass(float *weight, double variance)
{
    int reach = (int)ceil(2.6 * sqrt(variance));
    reach = reach < 1 ? 1 : reach > MAX_REACH ? MAX_REACH : reach;
    double sum = 0;
    for (int i = -reach; i <= reach; i++) {
        sum += exp(-i * i / (2 * variance));
    }
    for (int i = -reach; i <= reach; i++) {
        weight[i + reach] = (float)(exp(-i * i / (2 * variance)) / sum);
    }
    return reach;
}

/* Row of the plane from column left - margin on, width + 2 * margin long, without NaN. */
static void fetch_row(float *row, const struct plane *plane, int y, int left, int margin, int width)
{
    y = y < 0 ? 0 : y >= plane->height ? plane->height - 1 : y;
    const float *from = plane->value + (size_t)y * (size_t)plane->width;
    float good = 0;
    for (int x = 0; x < plane->width; x++) {
        if (!isnan(from[x])) {
            good = from[x];
            break;
        }
    }
    int n = width + 2 * margin;
    for (int i = 0; i < n; i++) {
        int x = left - margin + i;
        x = x < 0 ? 0 : x >= plane->width ? plane->width - 1 : x;
        if (!isnan(from[x])) {
            good = from[x];
        }
        row[i] = good;
    }
}

static void smooth_row(float *restrict out, const float *restrict in, const float *weight,
                       int reach, int n)
{
    memset(out, 0, (size_t)n * sizeof *out);
    for (int k = 0; k <= 2 * reach; k++) {
        float w = weight[k];
        const float *from = in + k;
        for (int i = 0; i < n; i++) {
            out[i] += w * from[i];
        }
    }
}

static void add_row(float *restrict out, const float *restrict from, float w0, float w1, int n)
{
    for (int i = 0; i < n; i++) {
        out[i] += w0 * from[i] + w1 * from[i + 1];
    }
}

static void restore_nan(float *out, const float *plane_row, int n)
{
    for (int i = 0; i < n; i++) {
        if (isnan(plane_row[i])) {
            out[i] = NAN;
        }
    }
}

int profile_smooth(float *out, const struct plane *plane, int left, int top, int out_width,
                   int out_height, const struct profile *p, struct error *err)
{
    /* The second pass runs down the rows, shifting by slope pixels a row; what it leaves of the
     * spread in x is the first pass's. */
    double slope = p->xy / p->yy;
    float across[2 * MAX_REACH + 1], down[2 * MAX_REACH + 1];
    int reach_x = fill_pass(across, fmax(p->xx - slope * p->xy, 0.1));
    int reach_y = fill_pass(down, p->yy);
    int shift = (int)ceil(fabs(slope) * reach_y) + 1;
    int rows = 2 * reach_y + 1;
    int wide = out_width + 2 * shift; /* columns left - shift .. */
    float *raw = malloc((size_t)(wide + 2 * reach_x) * sizeof *raw);
    float *ring = malloc((size_t)wide * (size_t)rows * sizeof *ring);
    int code = 0;
    if (!raw || !ring) {
        code = error_memory(err);
        goto done;
    }
    for (int y = top - reach_y; y < top + out_height + reach_y; y++) {
        int slot = (y - top + reach_y) % rows;
        fetch_row(raw, plane, y, left, shift + reach_x, out_width);
        smooth_row(ring + (size_t)slot * (size_t)wide, raw, across, reach_x, wide);
        int centre = y - reach_y;
        if (centre < top) {
            continue;
        }
        float *to = out + (size_t)(centre - top) * (size_t)out_width;
        memset(to, 0, (size_t)out_width * sizeof *to);
        for (int k = -reach_y; k <= reach_y; k++) {
            int from = (centre + k - top + reach_y) % rows;
            double offset = slope * k;
            int whole = (int)floor(offset);
            float part = (float)(offset - whole), w = down[k + reach_y];
            add_row(to, ring + (size_t)from * (size_t)wide + shift + whole, w * (1 - part),
                    w * part, out_width);
        }
        restore_nan(to, plane->value + (size_t)centre * (size_t)plane->width + left, out_width);
    }
done:
    free(raw);
    free(ring);
    return code;
}
