#include "stars/smooth.h"

#include "base/elementary.h"
#include "base/parallel.h"
#include "base/wider.h"

#include <math.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* Half-length of a pass, pixels; rows that are done in a go. */
enum { MAX_REACH = 16, BAND = 128 };

/* One pass: its weights to either side, from the middle on. */
struct pass {
    float weight[MAX_REACH + 1];
    int reach;
};

/* Two rows that count the same, as far above as below, each shifted towards where the line is. */
struct pair {
    float weight;
    int rows, shift; /* pixels right of the lower row */
};

enum { MOST_PAIRS = 2 * MAX_REACH };

struct filter {
    struct pass across; /* along a row */
    struct pass down;   /* from row to row ... */
    struct pair pair[MOST_PAIRS];
    int pairs;  /* ... which these do, with the middle row */
    int margin; /* pixels beyond the edge that the second pass needs */
};

static struct pass make_pass(double variance)
{
    struct pass pass = {.reach = (int)ceil(2.6 * sqrt(variance))};
    pass.reach = pass.reach > MAX_REACH ? MAX_REACH : pass.reach;
    double weight[MAX_REACH + 1], sum = 0;
    for (int i = 0; i <= pass.reach; i++) {
        weight[i] = elementary_exp(-i * i / (2 * variance));
        sum += i > 0 ? 2 * weight[i] : weight[i];
    }
    for (int i = 0; i <= pass.reach; i++) {
        pass.weight[i] = (float)(weight[i] / sum);
    }
    return pass;
}

static void add_pair(struct filter *f, double weight, int rows, int shift)
{
    f->pair[f->pairs++] = (struct pair){(float)weight, rows, shift};
    f->margin = abs(shift) > f->margin ? abs(shift) : f->margin;
}

/* The slanted pass carries all of the spread in y and the part of x that goes with it; the first
 * pass, along the row, has the rest. Between two pixels both get their part; a tenth of a pixel off
 * one is on it. */
static struct filter make_filter(const struct profile *p)
{
    double slope = p->xy / p->yy;
    struct filter f = {.across = make_pass(fmax(p->xx - slope * p->xy, 0.1)),
                       .down = make_pass(p->yy)};
    for (int k = 1; k <= f.down.reach; k++) {
        double shift = slope * k, weight = (double)f.down.weight[k], part = shift - floor(shift);
        int whole = (int)floor(shift);
        if (part < 0.1 || part > 0.9) {
            add_pair(&f, weight, k, (int)lround(shift));
        } else {
            add_pair(&f, weight * (1 - part), k, whole);
            add_pair(&f, weight * part, k, whole + 1);
        }
    }
    return f;
}

/* Copies, and tells whether all values are finite. */
static PLAIN void copy_row_plain(float *restrict to, bool *finite, const float *restrict from,
                                 int n)
{
    int gaps = 0;
    for (int i = 0; i < n; i++) {
        to[i] = from[i];
        gaps |= from[i] - from[i] != 0; /* NaN for what is not finite */
    }
    *finite = !gaps;
}

WIDER(copy_row, (float *restrict to, bool *finite, const float *restrict from, int n),
      (to, finite, from, n))

/* A row of the plane with some pixels more at its ends, and without gaps. Whether there were some.
 */
static bool fetch_row(float *row, const float *from, int width, int more)
{
    float *to = row + more, first = from[0], last = from[width - 1];
    bool whole;
    copy_row(to, &whole, from, width);
    if (!whole) {
        int x = 0;
        while (x < width && !isfinite(from[x])) {
            x++;
        }
        first = last = x < width ? from[x] : 0;
        for (x = 0; x < width; x++) {
            last = isfinite(from[x]) ? from[x] : last;
            to[x] = last;
        }
    }
    for (int i = 0; i < more; i++) {
        row[i] = first;
        to[width + i] = last;
    }
    return !whole;
}

/* The sums of both passes are written for any reach, and compiled for each that is usual: then they
 * stay in registers, and pixels are summed side by side. */
#define FOR_REACH(reach, call)                                                                     \
    switch (reach) {                                                                               \
    case 1:                                                                                        \
        call(1);                                                                                   \
        break;                                                                                     \
    case 2:                                                                                        \
        call(2);                                                                                   \
        break;                                                                                     \
    case 3:                                                                                        \
        call(3);                                                                                   \
        break;                                                                                     \
    case 4:                                                                                        \
        call(4);                                                                                   \
        break;                                                                                     \
    case 5:                                                                                        \
        call(5);                                                                                   \
        break;                                                                                     \
    case 6:                                                                                        \
        call(6);                                                                                   \
        break;                                                                                     \
    case 7:                                                                                        \
        call(7);                                                                                   \
        break;                                                                                     \
    case 8:                                                                                        \
        call(8);                                                                                   \
        break;                                                                                     \
    default:                                                                                       \
        call(reach);                                                                               \
    }

static inline void sum_across(float *restrict out, const float *restrict in,
                              const float *restrict weight, int reach, int n)
{
    for (int i = 0; i < n; i++) {
        float sum = weight[0] * in[i];
        for (int k = 1; k <= reach; k++) {
            sum += weight[k] * (in[i - k] + in[i + k]);
        }
        out[i] = sum;
    }
}

/* in: with the pass's reach before its first pixel. */
static PLAIN void smooth_row_plain(float *restrict out, const float *restrict in,
                                   const struct pass *pass, int n)
{
    const float *middle = in + pass->reach;
#define ACROSS(reach) sum_across(out, middle, pass->weight, reach, n)
    FOR_REACH(pass->reach, ACROSS)
#undef ACROSS
}

WIDER(smooth_row, (float *restrict out, const float *restrict in, const struct pass *pass, int n),
      (out, in, pass, n))

/* Rows of the first pass, the last ones, one after the other in a ring. */
struct ring {
    float *value;
    size_t stride;
    int rows;
    bool gaps[2 * MAX_REACH + 1]; /* whether the row of the plane has some */
};

/* y is -reach at least. */
static int ring_place(const struct ring *ring, int y)
{
    return (y + 2 * ring->rows) % ring->rows;
}

static const float *ring_row(const struct ring *ring, const struct filter *f, int y)
{
    return ring->value + (size_t)ring_place(ring, y) * ring->stride + f->margin;
}

static inline void sum_down(float *restrict out, const float *restrict middle,
                            const float *const *above, const float *const *below,
                            const float *restrict weight, int pairs, int n)
{
    for (int i = 0; i < n; i++) {
        float sum = weight[0] * middle[i];
        for (int k = 1; k <= pairs; k++) {
            sum += weight[k] * (above[k][i] + below[k][i]);
        }
        out[i] = sum;
    }
}

static PLAIN void combine_rows_plain(float *restrict out, const struct ring *ring,
                                     const struct filter *f, int y, int width)
{
    const float *above[MOST_PAIRS + 1], *below[MOST_PAIRS + 1], *middle = ring_row(ring, f, y);
    float weight[MOST_PAIRS + 1] = {f->down.weight[0]};
    for (int k = 0; k < f->pairs; k++) {
        const struct pair *pair = &f->pair[k];
        above[k + 1] = ring_row(ring, f, y - pair->rows) - pair->shift;
        below[k + 1] = ring_row(ring, f, y + pair->rows) + pair->shift;
        weight[k + 1] = pair->weight;
    }
#define DOWN(pairs) sum_down(out, middle, above, below, weight, pairs, width)
    FOR_REACH(f->pairs, DOWN)
#undef DOWN
}

WIDER(combine_rows,
      (float *restrict out, const struct ring *ring, const struct filter *f, int y, int width),
      (out, ring, f, y, width))

static void restore_gaps(float *out, const float *plane_row, int n)
{
    for (int i = 0; i < n; i++) {
        if (!isfinite(plane_row[i])) {
            out[i] = NAN;
        }
    }
}

int smooth_blocks(int width)
{
    return (width + SMOOTH_BLOCK - 1) / SMOOTH_BLOCK;
}

static inline void keep_larger(float *restrict to, const float *restrict other, int n)
{
    for (int i = 0; i < n; i++) {
        to[i] = to[i] > other[i] ? to[i] : other[i];
    }
}

/* The largest value of a block, half against half. */
static inline float highest_of(const float value[SMOOTH_BLOCK])
{
    float top[SMOOTH_BLOCK / 2];
    for (int i = 0; i < SMOOTH_BLOCK / 2; i++) {
        float other = value[i + SMOOTH_BLOCK / 2];
        top[i] = value[i] > other ? value[i] : other;
    }
    keep_larger(top, top + 8, 8);
    keep_larger(top, top + 4, 4);
    keep_larger(top, top + 2, 2);
    return top[0] > top[1] ? top[0] : top[1];
}

/* NaN is none. */
static float highest_of_some(const float *value, int n)
{
    float top = -INFINITY;
    for (int i = 0; i < n; i++) {
        top = value[i] > top ? value[i] : top;
    }
    return top;
}

/* Of each block of a row. */
static PLAIN void note_highest_plain(float *highest, const float *value, int n, bool gaps)
{
    int whole = gaps ? 0 : n / SMOOTH_BLOCK;
    for (int i = 0; i < whole; i++) {
        highest[i] = highest_of(value + (size_t)i * SMOOTH_BLOCK);
    }
    for (int i = whole; i * SMOOTH_BLOCK < n; i++) {
        int rest = n - i * SMOOTH_BLOCK;
        highest[i] = highest_of_some(value + (size_t)i * SMOOTH_BLOCK,
                                     rest < SMOOTH_BLOCK ? rest : SMOOTH_BLOCK);
    }
}

WIDER(note_highest, (float *highest, const float *value, int n, bool gaps),
      (highest, value, n, gaps))

struct smoothing {
    float *out;
    float *highest; /* of each block */
    const struct plane *plane;
    struct filter filter;
    atomic_bool failed;
};

static void smooth_rows(const struct smoothing *s, struct ring *ring, float *raw, int from, int to)
{
    const struct filter *f = &s->filter;
    int width = s->plane->width, height = s->plane->height, reach = f->down.reach;
    int wide = width + 2 * f->margin, before = f->margin + f->across.reach;
    for (int y = from - reach; y < to + reach; y++) {
        int row = y < 0 ? 0 : y >= height ? height - 1 : y, centre = y - reach;
        int place = ring_place(ring, y);
        size_t stride = (size_t)width;
        float *first_pass = ring->value + (size_t)place * ring->stride;
        ring->gaps[place] = fetch_row(raw, s->plane->value + (size_t)row * stride, width, before);
        smooth_row(first_pass, raw, &f->across, wide);
        if (centre >= from) {
            float *out = s->out + (size_t)centre * stride;
            combine_rows(out, ring, f, centre, width);
            bool gaps = ring->gaps[ring_place(ring, centre)];
            if (gaps) {
                restore_gaps(out, s->plane->value + (size_t)centre * stride, width);
            }
            note_highest(s->highest + (size_t)centre * (size_t)smooth_blocks(width), out, width,
                         gaps);
        }
    }
}

static void smooth_band(int item, void *context)
{
    struct smoothing *s = context;
    const struct filter *f = &s->filter;
    int height = s->plane->height, from = item * BAND;
    int wide = s->plane->width + 2 * f->margin;
    struct ring ring = {.stride = (size_t)wide, .rows = 2 * f->down.reach + 1};
    float *raw = malloc((size_t)(wide + 2 * f->across.reach) * sizeof *raw);
    ring.value = malloc(ring.stride * (size_t)ring.rows * sizeof *ring.value);
    if (raw && ring.value) {
        int end = from + BAND < height ? from + BAND : height;
        smooth_rows(s, &ring, raw, from, end);
    } else {
        atomic_store(&s->failed, true);
    }
    free(raw);
    free(ring.value);
}

int smooth_plane(float *out, float *highest, const struct plane *plane, const struct profile *p,
                 int threads, struct error *err)
{
    struct smoothing s = {.out = out, .highest = highest, .plane = plane, .filter = make_filter(p)};
    atomic_init(&s.failed, false);
    parallel_each((plane->height + BAND - 1) / BAND, threads, smooth_band, &s);
    return atomic_load(&s.failed) ? error_memory(err) : 0;
}
