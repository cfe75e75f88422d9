/* stack/stack_parts.h: what the files of the stack share. */
#ifndef ALIDADE_STACK_STACK_PARTS_H
#define ALIDADE_STACK_STACK_PARTS_H

#include "stack/sky_surface.h"
#include "stack/stack.h"

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
 * that keeps means, slopes and the widths of stars; NaN beyond the plane. */
void stack_warp_row(float *out, const struct stack_sheet *sheet, const float *x, const float *y,
                    int width);
/* The same linear, for what is smooth. */
void stack_warp_row_linear(float *out, const struct stack_sheet *sheet, const float *x,
                           const float *y, int width);

/* Takes values into a row of pixels; those that are not finite are passed over. fits: whether each
 * fitted what was there; noise: of a value, one sigma. Returns whether any was taken. */
bool stack_pixels_take(struct stack_pixel *pixel, const float *value, unsigned char *fits,
                       int width, float weight, float noise);

/* What the pixel shows; NaN for nothing. */
float stack_pixel_value(const struct stack_pixel *pixel);

/* Whether a direction lies in the target's outline made so many times as large. */
bool stack_target_contains(const struct sky_ellipse *target, const double v[3], double times);

/* Finds which parts of the sheet are target and sky around. */
void stack_find_regions(struct stack *stack);

#endif
