#include "stars/profile.h"

#include "base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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

double profile_width(const struct profile *p)
{
    return sqrt(sqrt(fmax(p->xx * p->yy - p->xy * p->xy, 0)));
}

double profile_angle_deg(const struct profile *p)
{
    return atan2(2 * p->xy, p->xx - p->yy) / 2 * DEG_PER_RAD;
}

struct profile profile_clamp(struct profile p)
{
    const double least = 0.65, most_short = 3.5, most_long = 5;
    double longer, shorter;
    profile_widths(&p, &longer, &shorter);
    shorter = fmin(fmax(shorter, least), most_short);
    longer = fmin(fmax(longer, shorter), most_long);
    double angle = profile_angle_deg(&p) / DEG_PER_RAD;
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

/* One pass's weights, summing to 1; returns their reach to either side. */
static int fill_pass(float *weight, double variance)
{
    int reach = (int)ceil(2.6 * sqrt(variance));
    reach = reach > MAX_REACH ? MAX_REACH : reach;
    double sum = 0;
    for (int i = -reach; i <= reach; i++) {
        sum += exp(-i * i / (2 * variance));
    }
    for (int i = -reach; i <= reach; i++) {
        weight[i + reach] = (float)(exp(-i * i / (2 * variance)) / sum);
    }
    return reach;
}

/* A row of the plane with margin pixels more at either end, and without gaps. */
static void fetch_row(float *row, const struct plane *plane, int y, int margin)
{
    y = y < 0 ? 0 : y >= plane->height ? plane->height - 1 : y;
    const float *from = plane->value + (size_t)y * (size_t)plane->width;
    float good = 0;
    for (int x = 0; x < plane->width; x++) {
        if (isfinite(from[x])) {
            good = from[x];
            break;
        }
    }
    for (int i = 0; i < margin; i++) {
        row[i] = good;
    }
    for (int x = 0; x < plane->width; x++) {
        good = isfinite(from[x]) ? from[x] : good;
        row[margin + x] = good;
    }
    for (int i = 0; i < margin; i++) {
        row[margin + plane->width + i] = good;
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

/* Adds a row shifted by a part of a pixel. */
static void add_row(float *restrict out, const float *restrict from, float here, float next, int n)
{
    for (int i = 0; i < n; i++) {
        out[i] += here * from[i] + next * from[i + 1];
    }
}

static void restore_gaps(float *out, const float *plane_row, int n)
{
    for (int i = 0; i < n; i++) {
        if (!isfinite(plane_row[i])) {
            out[i] = NAN;
        }
    }
}

/* The second pass: down the rows, each shifted in proportion to its distance. */
struct slant {
    float weight[2 * MAX_REACH + 1];
    int reach;
    double slope; /* pixels in x a row */
    int shift;    /* largest whole shift, and one more */
};

static void combine_rows(float *out, const float *ring, int wide, const struct slant *down, int y,
                         int width)
{
    int rows = 2 * down->reach + 1;
    memset(out, 0, (size_t)width * sizeof *out);
    for (int k = -down->reach; k <= down->reach; k++) {
        double offset = down->slope * k;
        int whole = (int)floor(offset);
        float part = (float)(offset - whole), w = down->weight[k + down->reach];
        const float *row = ring + (size_t)((y + k + down->reach) % rows) * (size_t)wide;
        add_row(out, row + down->shift + whole, w * (1 - part), w * part, width);
    }
}

int profile_smooth(float *out, const struct plane *plane, const struct profile *p,
                   struct error *err)
{
    /* The slanted pass carries all of the spread in y and the part of x that goes with it; the
     * first pass, along the row, has the rest. */
    struct slant down = {.slope = p->xy / p->yy};
    float across[2 * MAX_REACH + 1];
    int reach = fill_pass(across, fmax(p->xx - down.slope * p->xy, 0.1));
    down.reach = fill_pass(down.weight, p->yy);
    down.shift = (int)ceil(fabs(down.slope) * down.reach) + 1;
    int wide = plane->width + 2 * down.shift, rows = 2 * down.reach + 1;
    float *raw = malloc((size_t)(wide + 2 * reach) * sizeof *raw);
    float *ring = malloc((size_t)wide * (size_t)rows * sizeof *ring);
    int code = raw && ring ? 0 : error_memory(err);
    for (int y = -down.reach; !code && y < plane->height + down.reach; y++) {
        fetch_row(raw, plane, y, down.shift + reach);
        smooth_row(ring + (size_t)((y + down.reach) % rows) * (size_t)wide, raw, across, reach,
                   wide);
        int centre = y - down.reach;
        if (centre >= 0) {
            size_t start = (size_t)centre * (size_t)plane->width;
            combine_rows(out + start, ring, wide, &down, centre, plane->width);
            restore_gaps(out + start, plane->value + start, plane->width);
        }
    }
    free(raw);
    free(ring);
    return code;
}
