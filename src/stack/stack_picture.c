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
static const float darkest = 1.5F; /* below the sky, in units of its noise */

/* The stack while it becomes a picture. */
struct developing {
    const struct stack *stack;
    int step, width, height; /* so many pixels of the sheet are one, both ways */
    float *grey;             /* NaN: nothing; from clean on what is shown, 0..1 */
    float *tint[3];          /* red and blue less grey, and grey, all smooth; NULL: no colour */
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

/* Of the sheet's pixel in the middle of one of the picture. */
static float weight_at(const struct developing *d, size_t i)
{
    size_t step = (size_t)d->step;
    size_t x = i % (size_t)d->width * step + step / 2, y = i / (size_t)d->width * step + step / 2;
    return d->stack->mean_weight[y * (size_t)d->stack->place.width + x];
}

/* Of pixels spread over the picture those that show something: their grey or their weight. Returns
 * how many there are. */
static int sample(double sorted[SORTED + 1], const struct developing *d, bool weights)
{
    size_t n = (size_t)d->width * (size_t)d->height, step = n / SORTED + 1;
    int count = 0;
    for (size_t i = 0; i < n && count < SORTED; i += step) {
        if (d->grey[i] - d->grey[i] == 0) {
            sorted[count++] = (double)(weights ? weight_at(d, i) : d->grey[i]);
        }
    }
    return count;
}

/* The scatter of single pixels before they are cleaned tells how bright the faintest is that can
 * be seen: a curve that is straight up to some of it, and like a logarithm above. */
static int settle(struct developing *d, struct error *err)
{
    double *sorted = malloc((SORTED + 1) * sizeof *sorted);
    if (!sorted) {
        return error_memory(err);
    }
    int count = sample(sorted, d, false);
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

/* Where fewer frames were than usual, at the edges, their noise would show: what is there is drawn
 * to the sky as far as it is noisier. */
static int even_out(struct developing *d, struct error *err)
{
    size_t n = (size_t)d->width * (size_t)d->height;
    double *sorted = malloc((SORTED + 1) * sizeof *sorted);
    if (!sorted) {
        return error_memory(err);
    }
    int count = sample(sorted, d, true);
    float usual = count ? (float)median_of(sorted, count) : 1;
    free(sorted);
    for (size_t i = 0; i < n; i++) {
        float share = weight_at(d, i) / usual;
        d->grey[i] = d->black + (d->grey[i] - d->black) * (share < 1 ? sqrtf(share) : 1);
    }
    return 0;
}

/* Brightness shown: of the sky sky_shown, of the brightest about 1. */
static float curve(const struct developing *d, float value)
{
    float top = asinhf((d->white - d->black) / d->soft);
    float above = (value - d->black) / d->soft; /* a star's dips are no darker than noise is */
    float shown = sky_shown + (1 - sky_shown) * asinhf(above > -darkest ? above : -darkest) / top;
    return shown;
}

/* The curve first, then without noise, so that bright stars leave no dark rings. */
static int clean(struct developing *d, struct error *err)
{
    size_t n = (size_t)d->width * (size_t)d->height;
    float *work = large_alloc(n * sizeof *work);
    if (!work) {
        return error_memory(err);
    }
    for (size_t i = 0; i < n; i++) {
        work[i] = curve(d, d->grey[i] - d->grey[i] == 0 ? d->grey[i] : d->black);
    }
    int code = starlet_clean(work, d->width, d->height, SCALES, err);
    for (size_t i = 0; !code && i < n; i++) {
        d->grey[i] = d->grey[i] - d->grey[i] == 0 ? work[i] : NAN;
    }
    free(work);
    return code;
}

/* The tints and the grey that they belong to, smoothed alike, so that noise has no colour. */
static int find_tints(struct developing *d, struct error *err)
{
    const struct stack *stack = d->stack;
    int width = stack->tint_width, height = stack->tint_height, code = 0;
    size_t n = (size_t)width * (size_t)height;
    for (int c = 0; c < 3; c++) {
        d->tint[c] = large_alloc(n * sizeof *d->tint[c]);
        if (!d->tint[c]) {
            return error_memory(err);
        }
    }
    for (size_t i = 0; i < n; i++) {
        int x = 2 * (int)(i % (size_t)width), y = 2 * (int)(i / (size_t)width);
        float grey = (stack_value(stack, x, y) + stack_value(stack, x + 1, y) +
                      stack_value(stack, x, y + 1) + stack_value(stack, x + 1, y + 1)) /
                     4;
        float share = stack->tint_weight[i] / (float)stack->weight;
        share = share < 1 ? share : 1;
        d->tint[0][i] = stack->red[i] * share;
        d->tint[1][i] = stack->blue[i] * share;
        d->tint[2][i] = grey - grey == 0 ? grey - d->black : 0;
    }
    for (int c = 0; !code && c < 3; c++) {
        code = starlet_smooth(d->tint[c], width, height, 1, err);
        code = code ? code : starlet_smooth(d->tint[c], width, height, 2, err);
    }
    return code;
}

/* Red and blue as shares of the grey there, as far as that is sure. */
static void find_shares(float share[2], const struct developing *d, int x, int y)
{
    const struct stack *stack = d->stack;
    int i = (int)((x + 0.5) * d->step / 2), j = (int)((y + 0.5) * d->step / 2);
    share[0] = share[1] = 0;
    if (!d->tint[0] || i >= stack->tint_width || j >= stack->tint_height) {
        return;
    }
    size_t at = (size_t)j * (size_t)stack->tint_width + (size_t)i;
    float grey = d->tint[2][at];
    if (grey > 0) {
        float sure = grey / (grey + d->soft), all = sure / grey;
        share[0] = d->tint[0][at] * all;
        share[1] = d->tint[1][at] * all;
    }
}

static unsigned char to_byte(float shown)
{
    return (unsigned char)(shown > 0 ? shown < 1 ? shown * 255 + 0.5F : 255 : 0);
}

static float within(float value, float most)
{
    return value > most ? most : value < -most ? -most : value;
}

/* Colours keep their proportions to the light above the sky, within bounds. */
static void show_pixel(unsigned char rgb[3], const struct developing *d, int x, int y)
{
    const float most = 0.6F;
    float shown = d->grey[(size_t)y * (size_t)d->width + (size_t)x], share[2];
    if (!(shown - shown == 0)) {
        return;
    }
    find_shares(share, d, x, y);
    float red = within(share[0], most), blue = within(share[1], most);
    const float part[3] = {red, -(red + blue) / 2, blue};
    for (int c = 0; c < 3; c++) {
        rgb[c] = to_byte(sky_shown + (shown - sky_shown) * (1 + (shown > sky_shown ? part[c] : 0)));
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
                rgb[0] = to_byte(d->grey[at]);
            }
        }
    }
}

/* The size of the picture: whole pixels of the sheet are one of it. */
static void choose_size(struct developing *d, int largest)
{
    int width = d->stack->place.width, height = d->stack->place.height;
    int longer = width > height ? width : height;
    d->step = largest > 0 ? (longer + largest - 1) / largest : 1;
    d->width = width / d->step > 0 ? width / d->step : 1;
    d->height = height / d->step > 0 ? height / d->step : 1;
}

int stack_picture(struct picture *out, const struct stack *stack, const struct stack_look *look,
                  struct error *err)
{
    struct developing d = {.stack = stack};
    choose_size(&d, look->largest);
    *out = (struct picture){.width = d.width, .height = d.height};
    out->rgb = calloc(3 * (size_t)d.width, (size_t)d.height);
    d.grey = shrink(&d);
    int code = out->rgb && d.grey ? settle(&d, err) : error_memory(err);
    code = code ? code : even_out(&d, err);
    code = code || look->red || !stack->red ? code : find_tints(&d, err);
    code = code ? code : clean(&d, err);
    if (!code) {
        show(out, &d, look->red);
    }
    free(d.grey);
    for (int c = 0; c < 3; c++) {
        free(d.tint[c]);
    }
    if (code) {
        free(out->rgb);
        *out = (struct picture){0};
    }
    return code;
}
