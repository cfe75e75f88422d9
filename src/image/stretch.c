#include "image/stretch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SAMPLES = 1 << 16 };

static int sampled(int length, int step)
{
    return (length + step - 1) / step;
}

int stretch_start(struct stretch *s, int width, int height, struct error *err)
{
    memset(s, 0, sizeof *s);
    s->step = 1 + (int)sqrt((double)width * height / SAMPLES);
    s->capacity = sampled(width, s->step) * sampled(height, s->step);
    s->curve = malloc((STRETCH_LEVELS + 1) * sizeof *s->curve);
    bool good = s->curve != NULL;
    for (int c = 0; c < 3; c++) {
        s->sample[c] = malloc((size_t)s->capacity * sizeof **s->sample);
        good = good && s->sample[c];
    }
    return good ? 0 : error_memory(err);
}

void stretch_free(struct stretch *s)
{
    for (int c = 0; c < 3; c++) {
        free(s->sample[c]);
    }
    free(s->curve);
    memset(s, 0, sizeof *s);
}

bool stretch_wants(const struct stretch *s, int row)
{
    return row % s->step == 0;
}

void stretch_look(struct stretch *s, int channel, const float *value, int width)
{
    for (int x = 0; x < width && s->count[channel] < s->capacity; x += s->step) {
        if (isfinite(value[x])) {
            s->sample[channel][s->count[channel]++] = value[x];
        }
    }
}

static int compare(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

/* Of a sorted list that is not empty; share is 0..1. */
static double percentile(const float *sorted, int count, double share)
{
    return (double)sorted[(int)((count - 1) * share + 0.5)];
}

/* Strength at which asinh(strength * x) / asinh(strength) brings middle to a quarter. */
static double find_strength(double middle)
{
    double low = 0, high = 14; /* natural logarithms */
    for (int i = 0; i < 50; i++) {
        double mid = (low + high) / 2, strength = exp(mid);
        bool bright = asinh(strength * middle) / asinh(strength) > 0.25;
        low = bright ? low : mid;
        high = bright ? mid : high;
    }
    return exp(low);
}

/* Means over the channels. */
struct levels {
    double black, middle, white; /* middle and white: above black */
};

/* Each channel's black is put so that the medians fall together: the noisier channel must not tint
 * the sky. */
static struct levels measure(struct stretch *s)
{
    struct levels mean = {0, 0, 0};
    double median[3] = {0, 0, 0}, share = 0;
    for (int c = 0; c < 3; c++) {
        share += s->count[c] > 0;
    }
    share = share > 0 ? 1 / share : 0;
    for (int c = 0; c < 3; c++) {
        if (s->count[c] > 0) {
            qsort(s->sample[c], (size_t)s->count[c], sizeof **s->sample, compare);
            double black = percentile(s->sample[c], s->count[c], 0.002);
            median[c] = percentile(s->sample[c], s->count[c], 0.5);
            mean.black += share * black;
            mean.middle += share * (median[c] - black);
            mean.white += share * (percentile(s->sample[c], s->count[c], 1) - black);
        }
    }
    /* Where noise is all there is, no curve brings the median down to a quarter; black does. */
    double rise = fmax((mean.middle - mean.white / 4) / 0.75, 0);
    for (int c = 0; c < 3; c++) {
        s->black[c] = (float)(median[c] - (mean.middle - rise));
    }
    return (struct levels){mean.black + rise, mean.middle - rise, mean.white - rise};
}

void stretch_settle_plain(struct stretch *s, float full)
{
    for (int c = 0; full <= 0 && c < 3; c++) {
        for (int i = 0; i < s->count[c]; i++) {
            full = fmaxf(full, s->sample[c][i]);
        }
    }
    full = full > 0 ? full : 1;
    s->plain = true;
    for (int c = 0; c < 3; c++) {
        s->black[c] = 0;
    }
    s->scale = 1 / full;
}

void stretch_settle(struct stretch *s, float full)
{
    struct levels levels = measure(s);
    if (full > 0 && (full <= 255 || levels.black + levels.middle > (double)full / 20)) {
        stretch_settle_plain(s, full);
        return;
    }
    double white = levels.white > 0 ? levels.white : 1;
    s->sky = (float)(levels.middle / white);
    s->scale = (float)(1 / white);
    double strength = find_strength((double)s->sky);
    for (int i = 0; i <= STRETCH_LEVELS; i++) {
        double x = pow((double)i / STRETCH_LEVELS, 2); /* faint levels lie close together */
        s->curve[i] = (float)(asinh(strength * x) / asinh(strength));
    }
}

static float clip(float x)
{
    return x > 0 ? x < 1 ? x : 1 : 0; /* NaN gives 0, too */
}

static float curve_at(const struct stretch *s, float x)
{
    float place = sqrtf(clip(x)) * STRETCH_LEVELS;
    int below = place < STRETCH_LEVELS ? (int)place : STRETCH_LEVELS - 1;
    return s->curve[below] + (place - (float)below) * (s->curve[below + 1] - s->curve[below]);
}

/* Brightness follows the curve; colour is full strength well above the sky, and half at its level,
 * where it is mostly noise. */
static void convert_pixel(const struct stretch *s, float in[3], float *out)
{
    float mean = (clip(in[0]) + clip(in[1]) + clip(in[2])) / 3;
    float light = curve_at(s, mean), most = 1;
    float strength = mean > 0 ? light / (mean + s->sky) : 0;
    for (int c = 0; c < 3; c++) {
        out[c] = light + strength * (clip(in[c]) - mean);
        most = out[c] > most ? out[c] : most;
    }
    for (int c = 0; c < 3; c++) {
        out[c] = clip(out[c] / most);
    }
}

void stretch_convert(const struct stretch *s, const float *const colour[3], int width, float *out)
{
    for (int x = 0; x < width; x++, out += 3) {
        float in[3];
        for (int c = 0; c < 3; c++) {
            in[c] = (colour[c][x] - s->black[c]) * s->scale;
            out[c] = clip(in[c]);
        }
        if (!s->plain) {
            convert_pixel(s, in, out);
        }
    }
}
