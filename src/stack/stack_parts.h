/* stack/stack_parts.h: what the files of the stack share. */
#ifndef ALIDADE_STACK_STACK_PARTS_H
#define ALIDADE_STACK_STACK_PARTS_H

#include "stack/sky_surface.h"
#include "stack/stack.h"

#include <stdint.h>

enum { STACK_CELL = 16, STACK_REGION = 4, STACK_BAND = 32 };

/* Weighted sums of the values that fitted the mean, of frames in turn. */
struct stack_cell {
    double sum[2], weight[2];
};

enum stack_region { REGION_ELSEWHERE, REGION_TARGET, REGION_AROUND, REGION_NEAR };

/* A plane that is laid on the sheet. */
struct stack_sheet {
    const float *value;
    int width, height;
    double bin; /* px of the picture a pixel */
    const struct sky_surface *sky;
};

/* Values of a row of the sheet's grid, by a cubic (Keys 1981, IEEE Trans. ASSP 29, 1153, a = -1/2)
 * that keeps means, slopes and the widths of stars, or linear for what is smooth; NaN beyond the
 * plane. x, y: in pixels of the plane. */
void stack_warp_row(float *out, const struct stack_sheet *sheet, const float *x, const float *y,
                    int width, bool smooth);

/* A row of the sheet, borrowed. */
struct stack_row {
    float *mean, *weight, *other, *other_weight;
};
struct stack_row stack_row(const struct stack *stack, int y);

/* What became of a value: none; it belonged to what was there; it did not. */
#define STACK_NOTHING 0.0F
#define STACK_FITS 1.0F
#define STACK_MISFITS 2.0F

/* Takes values into a row; those that are not finite are passed over. fits: one of the above for
 * each; noise: of a value, one sigma. Returns whether any was taken. */
bool stack_row_take(const struct stack_row *row, const float *value, float *fits, int width,
                    float weight, float noise);

/* Whether a direction lies in the target's outline made so many times as large. */
bool stack_target_contains(const struct sky_ellipse *target, const double v[3], double times);

/* Finds which parts of the sheet are target and sky around. */
void stack_find_regions(struct stack *stack);

/* a where all bits of the mask are set, b where none is: without a branch, so that pixels can be
 * worked out side by side. */
static inline float choose(uint32_t mask, float a, float b)
{
    union {
        float value;
        uint32_t bits;
    } first = {a}, second = {b}, chosen;
    chosen.bits = (first.bits & mask) | (second.bits & ~mask);
    return chosen.value;
}

static inline uint32_t mask_if(int condition)
{
    return (uint32_t)-condition;
}

#endif
