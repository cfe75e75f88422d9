#include "stars/profile.h"

#include "base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MAX_REACH 16 /* half-length of a filter pass, pixels */

/* Pixels that are summed side by side, in registers. Rows that are read have as many to spare. */
enum { LANES = 16 };

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

/* A row of the plane with before and after pixels more at its ends, and without gaps. */
static void fetch_row(float *row, const struct plane *plane, int y, int before, int after)
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
    for (int i = 0; i < before; i++) {
        row[i] = good;
    }
    for (int x = 0; x < plane->width; x++) {
        good = isfinite(from[x]) ? from[x] : good;
        row[before + x] = good;
    }
    for (int i = 0; i < after; i++) {
        row[before + plane->width + i] = good;
    }
}

/* The rest of a row that is no whole number of lanes. */
static size_t lanes_left(int done, int n)
{
    return (size_t)(n - done < LANES ? n - done : LANES);
}

static void smooth_row(float *restrict out, const float *restrict in, const float *weight,
                       int reach, int n)
{
    for (int i = 0; i < n; i += LANES) {
        float sum[LANES] = {0};
        for (int k = 0; k <= 2 * reach; k++) {
            const float *from = in + i + k;
            for (int j = 0; j < LANES; j++) {
                sum[j] += weight[k] * from[j];
            }
        }
        memcpy(out + i, sum, lanes_left(i, n) * sizeof *sum);
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

/* What a row of the first pass gives to the sum: its pixels lie between those of the result. */
struct term {
    const float *row;
    float here, next;
};

static void combine_rows(float *restrict out, const float *ring, size_t stride,
                         const struct slant *down, int y, int width)
{
    struct term term[2 * MAX_REACH + 1];
    int terms = 2 * down->reach + 1;
    for (int k = 0; k < terms; k++) {
        double offset = down->slope * (k - down->reach);
        int whole = (int)floor(offset);
        float part = (float)(offset - whole), w = down->weight[k];
        term[k].row = ring + (size_t)((y + k) % terms) * stride + down->shift + whole;
        term[k].here = w * (1 - part);
        term[k].next = w * part;
    }
    for (int i = 0; i < width; i += LANES) {
        float sum[LANES] = {0};
        for (int k = 0; k < terms; k++) {
            const float *from = term[k].row + i;
            for (int j = 0; j < LANES; j++) {
                sum[j] += term[k].here * from[j] + term[k].next * from[j + 1];
            }
        }
        memcpy(out + i, sum, lanes_left(i, width) * sizeof *sum);
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
    int before = down.shift + reach;
    size_t stride = (size_t)wide + LANES + 1;
    float *raw = malloc((size_t)(wide + 2 * reach + LANES) * sizeof *raw);
    float *ring = calloc(stride * (size_t)rows, sizeof *ring);
    int code = raw && ring ? 0 : error_memory(err);
    for (int y = -down.reach; !code && y < plane->height + down.reach; y++) {
        fetch_row(raw, plane, y, before, before + LANES);
        smooth_row(ring + (size_t)((y + down.reach) % rows) * stride, raw, across, reach, wide);
        int centre = y - down.reach;
        if (centre >= 0) {
            size_t start = (size_t)centre * (size_t)plane->width;
            combine_rows(out + start, ring, stride, &down, centre, plane->width);
            restore_gaps(out + start, plane->value + start, plane->width);
        }
    }
    free(raw);
    free(ring);
    return code;
}
