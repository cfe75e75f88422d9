/* Frames of a night are turned by little against each other and as large: from a pixel of the sheet
 * to the next one of a row the place in the frame mostly moves on by one pixel, in the same row.
 * Such runs are worked out side by side, from neighbours that lie side by side too; what is between
 * them, or where the sheet is turned by much, one by one. Both give the same numbers. */
#include "stack/stack_parts.h"

#include "base/wider.h"

#include <math.h>

enum { AT_ONCE = 256, LEAST_RUN = 6, BEYOND = -1 };

/* Where pixels of the sheet's row lie in the frame. */
struct places {
    int column[AT_ONCE], row[AT_ONCE];    /* the pixel at the upper left; row BEYOND: not within */
    float across[AT_ONCE], down[AT_ONCE]; /* from there, 0..1 */
};

/* first: of pixels that have all neighbours; last: the first that has not any more. */
static PLAIN void find_places_plain(int *restrict column, int *restrict row, float *restrict across,
                                    float *restrict down, const float *restrict x,
                                    const float *restrict y, int n, float first, float last_x,
                                    float last_y)
{
    for (int i = 0; i < n; i++) {
        uint32_t inside = mask_if(x[i] >= first) & mask_if(x[i] < last_x) & mask_if(y[i] >= first) &
                          mask_if(y[i] < last_y);
        float u = choose(inside, x[i], 0), v = choose(inside, y[i], 0);
        int left = (int)u, top = (int)v;
        column[i] = left;
        row[i] = top | (int)~inside; /* BEYOND is all bits */
        across[i] = u - (float)left;
        down[i] = v - (float)top;
    }
}

WIDER(find_places,
      (int *restrict column, int *restrict row, float *restrict across, float *restrict down,
       const float *restrict x, const float *restrict y, int n, float first, float last_x,
       float last_y),
      (column, row, across, down, x, y, n, first, last_x, last_y))

/* How many pixels from i on lie side by side in one row of the frame. */
static int find_run(const struct places *p, int i, int n)
{
    int end = i + 1, column = p->column[i] - i, row = p->row[i];
    while (end < n && p->column[end] - end == column && p->row[end] == row) {
        end++;
    }
    return end - i;
}

/* Weights of four neighbours for a place so far, 0..1, beyond the second. */
struct cubic {
    float first, second, third, fourth;
};

static inline struct cubic cubic(float t)
{
    float t2 = t * t, t3 = t2 * t;
    return (struct cubic){-0.5F * t + t2 - 0.5F * t3, 1 - 2.5F * t2 + 1.5F * t3,
                          0.5F * t + 2 * t2 - 1.5F * t3, -0.5F * t2 + 0.5F * t3};
}

static inline float cubic_pixel(const float *from, size_t stride, float across, float down)
{
    const struct cubic c = cubic(across), d = cubic(down);
    float sum[4];
    for (size_t k = 0; k < 4; k++) {
        sum[k] = d.first * from[k] + d.second * from[stride + k] + d.third * from[2 * stride + k] +
                 d.fourth * from[3 * stride + k];
    }
    return c.first * sum[0] + c.second * sum[1] + c.third * sum[2] + c.fourth * sum[3];
}

/* from: the neighbour at the upper left of the first of n pixels side by side. */
static PLAIN void cubic_run_plain(float *restrict out, const float *restrict from, size_t stride,
                                  const float *restrict across, const float *restrict down, int n)
{
    for (int i = 0; i < n; i++) {
        out[i] = cubic_pixel(from + i, stride, across[i], down[i]);
    }
}

WIDER(cubic_run,
      (float *restrict out, const float *restrict from, size_t stride, const float *restrict across,
       const float *restrict down, int n),
      (out, from, stride, across, down, n))

static inline float linear_pixel(const float *from, size_t stride, float across, float down)
{
    float upper = from[0] + across * (from[1] - from[0]);
    float lower = from[stride] + across * (from[stride + 1] - from[stride]);
    return upper + down * (lower - upper);
}

static PLAIN void linear_run_plain(float *restrict out, const float *restrict from, size_t stride,
                                   const float *restrict across, const float *restrict down, int n)
{
    for (int i = 0; i < n; i++) {
        out[i] = linear_pixel(from + i, stride, across[i], down[i]);
    }
}

WIDER(linear_run,
      (float *restrict out, const float *restrict from, size_t stride, const float *restrict across,
       const float *restrict down, int n),
      (out, from, stride, across, down, n))

static void fill_run(float *out, const struct stack_sheet *sheet, const struct places *p, int i,
                     int n, bool smooth)
{
    size_t stride = (size_t)sheet->width;
    int back = smooth ? 0 : 1;
    const float *from = sheet->value + (size_t)(p->row[i] - back) * stride;
    if (n >= LEAST_RUN) {
        from += p->column[i] - back;
        if (smooth) {
            linear_run(out, from, stride, p->across + i, p->down + i, n);
        } else {
            cubic_run(out, from, stride, p->across + i, p->down + i, n);
        }
        return;
    }
    for (int k = 0; k < n; k++) {
        const float *here = from + p->column[i + k] - back;
        out[k] = smooth ? linear_pixel(here, stride, p->across[i + k], p->down[i + k])
                        : cubic_pixel(here, stride, p->across[i + k], p->down[i + k]);
    }
}

static void fill_places(float *out, const struct stack_sheet *sheet, const struct places *p, int n,
                        bool smooth)
{
    for (int i = 0; i < n;) {
        int run = find_run(p, i, n);
        if (p->row[i] == BEYOND) {
            for (int k = 0; k < run; k++) {
                out[i + k] = NAN;
            }
        } else {
            fill_run(out + i, sheet, p, i, run, smooth);
        }
        i += run;
    }
}

void stack_warp_row(float *out, const struct stack_sheet *sheet, const float *x, const float *y,
                    int width, bool smooth)
{
    struct places p;
    float first = smooth ? 0 : 1, last_x = (float)(sheet->width - (smooth ? 1 : 2));
    float last_y = (float)(sheet->height - (smooth ? 1 : 2));
    for (int i = 0; i < width; i += AT_ONCE) {
        int n = width - i < AT_ONCE ? width - i : AT_ONCE;
        find_places(p.column, p.row, p.across, p.down, x + i, y + i, n, first, last_x, last_y);
        fill_places(out + i, sheet, &p, n, smooth);
    }
}
