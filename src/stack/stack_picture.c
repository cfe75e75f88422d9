#include "base/large.h"
#include "base/median.h"
#include "stack/stack_parts.h"
#include "stack/starlet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SCALES = 5, SORTED = 20000 };
/* Where the sky comes to lie, 0..1, and from which share of the pixels on all is white. */
static const float sky_shown = 0.1F;
static const double white_share = 0.9995;

/* The stack while it becomes a picture. */
struct developing {
    const struct stack *stack;
    int step, width, height; /* so many pixels of the sheet are one, both ways */
    float *grey;             /* NaN: nothing */
    float black, soft, white;
};

static float *shrink(const struct developing *d)
{
    const struct stack *stack = d->stack;
    float *out = large_alloc((size_t)d->width * (size_t)d->height * sizeof *out);
    for (int y = 0; out && y < d->height; y++) {
        for (int x = 0; x < d->width; x++) {
            float sum = 0, count = 0;
            for (int k = 0; k < d->step * d->step; k++) {
                float v = stack_value(stack, x * d->step + k % d->step, y * d->step + k / d->step);
                if (v - v == 0) {
                    sum += v;
                    count++;
                }
            }
            out[(size_t)y * (size_t)d->width + (size_t)x] = count > 0 ? sum / count : NAN;
        }
    }
    return out;
}

/* Without noise, but for parts where nothing is. */
static int clean(struct developing *d, struct error *err)
{
    size_t n = (size_t)d->width * (size_t)d->height;
    float *work = large_alloc(n * sizeof *work);
    if (!work) {
        return error_memory(err);
    }
    for (size_t i = 0; i < n; i++) {
        work[i] = d->grey[i] - d->grey[i] == 0 ? d->grey[i] : 0;
    }
    int code = starlet_clean(work, d->width, d->height, SCALES, err);
    for (size_t i = 0; !code && i < n; i++) {
        d->grey[i] = d->grey[i] - d->grey[i] == 0 ? work[i] : NAN;
    }
    free(work);
    return code;
}

/* The scatter of single pixels before they are cleaned tells how bright the faintest is that can
 * be seen: a curve that is straight up to some of it, and like a logarithm above. */
static int settle(struct developing *d, struct error *err)
{
    size_t n = (size_t)d->width * (size_t)d->height, step = n / SORTED + 1;
    double *sorted = malloc((SORTED + 1) * sizeof *sorted);
    int count = 0;
    if (!sorted) {
        return error_memory(err);
    }
    for (size_t i = 0; i < n && count < SORTED; i += step) {
        if (d->grey[i] - d->grey[i] == 0) {
            sorted[count++] = (double)d->grey[i];
        }
    }
    d->white = count ? (float)median_quantile(sorted, count, white_share) : 1;
    d->black = (float)median_of(sorted, count);
    for (int i = 0; i < count; i++) {
        sorted[i] = fabs(sorted[i] - (double)d->black);
    }
    d->soft = (float)(1.4826 * median_of(sorted, count));
    d->soft = d->soft > 0 ? d->soft : 1;
    d->white = d->white > d->black + 20 * d->soft ? d->white : d->black + 20 * d->soft;
    free(sorted);
    return 0;
}

/* Brightness shown, 0..1. */
static float curve(const struct developing *d, float value)
{
    float top = asinhf((d->white - d->black) / d->soft);
    float shown = sky_shown + (1 - sky_shown) * asinhf((value - d->black) / d->soft) / top;
    return shown > 0 ? shown < 1 ? shown : 1 : 0;
}

/* The mean tint over a square of the tints' sheet, so that noise has no colour. */
static void find_tint(float tint[2], const struct developing *d, int x, int y)
{
    const struct stack *stack = d->stack;
    const int reach = 2;
    int cx = (int)((x + 0.5) * d->step / 2), cy = (int)((y + 0.5) * d->step / 2);
    float sum[2] = {0, 0}, weight = 0;
    for (int j = cy - reach; j <= cy + reach; j++) {
        for (int i = cx - reach; i <= cx + reach; i++) {
            if (i >= 0 && j >= 0 && i < stack->tint_width && j < stack->tint_height) {
                size_t at = (size_t)j * (size_t)stack->tint_width + (size_t)i;
                sum[0] += stack->red[at] * stack->tint_weight[at];
                sum[1] += stack->blue[at] * stack->tint_weight[at];
                weight += stack->tint_weight[at];
            }
        }
    }
    tint[0] = weight > 0 ? sum[0] / weight : 0;
    tint[1] = weight > 0 ? sum[1] / weight : 0;
}

static unsigned char to_byte(float shown)
{
    return (unsigned char)(shown > 0 ? shown < 1 ? shown * 255 + 0.5F : 255 : 0);
}

/* Colours keep their proportions to the light above the sky, as far as that is sure. */
static void show_pixel(unsigned char rgb[3], const struct developing *d, int x, int y)
{
    float grey = d->grey[(size_t)y * (size_t)d->width + (size_t)x], tint[2] = {0, 0};
    if (!(grey - grey == 0)) {
        return;
    }
    float shown = curve(d, grey), above = grey - d->black;
    float sure = above > 0 ? above / (above + 2 * d->soft) : 0;
    if (d->stack->red && sure > 0) {
        find_tint(tint, d, x, y);
    }
    float scale = above > 0 ? sure / above : 0;
    float red = tint[0] * scale, blue = tint[1] * scale, green = -(red + blue) / 2;
    const float part[3] = {red, green, blue};
    for (int c = 0; c < 3; c++) {
        float share = 1 + (part[c] > 1 ? 1 : part[c] < -0.8F ? -0.8F : part[c]);
        rgb[c] = to_byte(sky_shown + (shown - sky_shown) * share);
    }
}

static void show(struct picture *out, const struct developing *d, bool red)
{
    for (int y = 0; y < d->height; y++) {
        for (int x = 0; x < d->width; x++) {
            size_t at = (size_t)y * (size_t)d->width + (size_t)x;
            unsigned char *rgb = out->rgb + 3 * at;
            if (!red) {
                show_pixel(rgb, d, x, y);
            } else if (d->grey[at] - d->grey[at] == 0) {
                rgb[0] = to_byte(curve(d, d->grey[at]));
            }
        }
    }
}

int stack_picture(struct picture *out, const struct stack *stack, const struct stack_look *look,
                  struct error *err)
{
    struct developing d = {.stack = stack, .step = 1};
    int longer =
        stack->place.width > stack->place.height ? stack->place.width : stack->place.height;
    while (look->largest > 0 && longer / d.step > look->largest) {
        d.step++;
    }
    d.width = stack->place.width / d.step > 0 ? stack->place.width / d.step : 1;
    d.height = stack->place.height / d.step > 0 ? stack->place.height / d.step : 1;
    *out = (struct picture){.width = d.width, .height = d.height};
    out->rgb = calloc(3 * (size_t)d.width, (size_t)d.height);
    d.grey = shrink(&d);
    int code = out->rgb && d.grey ? settle(&d, err) : error_memory(err);
    code = code ? code : clean(&d, err);
    if (!code) {
        show(out, &d, look->red);
    }
    free(d.grey);
    if (code) {
        free(out->rgb);
        *out = (struct picture){0};
    }
    return code;
}
