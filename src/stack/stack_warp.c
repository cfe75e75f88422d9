#include "stack/stack_parts.h"

#include <math.h>

enum { PHASES = 256 };

/* Weights of four neighbours for a place a part, 0..1, beyond the second. */
static void cubic(float weight[4], float part)
{
    float t = part, t2 = t * t, t3 = t2 * t;
    weight[0] = -0.5F * t + t2 - 0.5F * t3;
    weight[1] = 1 - 2.5F * t2 + 1.5F * t3;
    weight[2] = 0.5F * t + 2 * t2 - 1.5F * t3;
    weight[3] = -0.5F * t2 + 0.5F * t3;
}

struct phases {
    float weight[PHASES + 1][4];
};

static void fill_phases(struct phases *phases)
{
    for (int i = 0; i <= PHASES; i++) {
        cubic(phases->weight[i], (float)i / PHASES);
    }
}

void stack_warp_row(float *out, const struct stack_sheet *sheet, const float *x, const float *y,
                    int width)
{
    struct phases phases;
    size_t stride = (size_t)sheet->width;
    float most_x = (float)(sheet->width - 2), most_y = (float)(sheet->height - 2);
    fill_phases(&phases);
    for (int i = 0; i < width; i++) {
        if (!(x[i] >= 1 && y[i] >= 1 && x[i] < most_x && y[i] < most_y)) {
            out[i] = NAN;
            continue;
        }
        int left = (int)x[i], top = (int)y[i];
        const float *across = phases.weight[(int)((x[i] - (float)left) * PHASES + 0.5F)];
        const float *down = phases.weight[(int)((y[i] - (float)top) * PHASES + 0.5F)];
        const float *from = sheet->value + (size_t)(top - 1) * stride + (size_t)(left - 1);
        float sum[4];
        for (int k = 0; k < 4; k++) {
            sum[k] = down[0] * from[k] + down[1] * from[stride + (size_t)k] +
                     down[2] * from[2 * stride + (size_t)k] +
                     down[3] * from[3 * stride + (size_t)k];
        }
        out[i] = across[0] * sum[0] + across[1] * sum[1] + across[2] * sum[2] + across[3] * sum[3];
    }
}

void stack_warp_row_linear(float *out, const struct stack_sheet *sheet, const float *x,
                           const float *y, int width)
{
    size_t stride = (size_t)sheet->width;
    float most_x = (float)(sheet->width - 1), most_y = (float)(sheet->height - 1);
    for (int i = 0; i < width; i++) {
        if (!(x[i] >= 0 && y[i] >= 0 && x[i] < most_x && y[i] < most_y)) {
            out[i] = NAN;
            continue;
        }
        int left = (int)x[i], top = (int)y[i];
        float s = x[i] - (float)left, t = y[i] - (float)top;
        const float *from = sheet->value + (size_t)top * stride + (size_t)left;
        float upper = from[0] + s * (from[1] - from[0]);
        float lower = from[stride] + s * (from[stride + 1] - from[stride]);
        out[i] = upper + t * (lower - upper);
    }
}
