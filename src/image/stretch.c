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
    s->level = malloc(STRETCH_LEVELS + 1);
    bool good = s->level != NULL;
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
    free(s->level);
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

static struct levels measure(struct stretch *s)
{
    struct levels sum = {0, 0, 0};
    double median[3] = {0, 0, 0};
    int channels = 0;
    for (int c = 0; c < 3; c++) {
        if (s->count[c] > 0) {
            qsort(s->sample[c], (size_t)s->count[c], sizeof **s->sample, compare);
            double black = percentile(s->sample[c], s->count[c], 0.002);
            median[c] = percentile(s->sample[c], s->count[c], 0.5);
            sum.black += black;
            sum.middle += median[c] - black;
            sum.white += percentile(s->sample[c], s->count[c], 0.9995) - black;
            channels++;
        }
    }
    double share = channels > 0 ? 1.0 / channels : 0;
    struct levels levels = {sum.black * share, sum.middle * share, sum.white * share};
    /* Where noise is all there is, no curve brings the median down to a quarter; black does. */
    double rise = fmax((levels.middle - levels.white / 4) / 0.75, 0);
    levels = (struct levels){levels.black + rise, levels.middle - rise, levels.white - rise};
    for (int c = 0; c < 3; c++) { /* the noisier channel must not tint the sky */
        s->black[c] = (float)(median[c] - levels.middle);
    }
    return levels;
}

void stretch_settle(struct stretch *s, float full)
{
    struct levels levels = measure(s);
    double white = levels.white > 0 ? levels.white : 1;
    double strength = find_strength(levels.middle / white);
    bool linear = full > 0 && (full <= 255 || levels.black + levels.middle > full / 20);
    if (linear) {
        white = full;
        s->black[0] = s->black[1] = s->black[2] = 0;
    }
    s->scale = (float)(STRETCH_LEVELS / white);
    for (int i = 0; i <= STRETCH_LEVELS; i++) {
        double x = (double)i / STRETCH_LEVELS;
        double y = linear ? x : asinh(strength * x) / asinh(strength);
        s->level[i] = (unsigned char)(255 * y + 0.5);
    }
}

void stretch_convert(const struct stretch *s, int channel, const float *value, int width,
                     unsigned char *out, int step)
{
    float black = s->black[channel], scale = s->scale;
    for (int x = 0; x < width; x++) {
        float level = (value[x] - black) * scale;
        level = level > 0 ? level : 0; /* NaN, too */
        level = level < STRETCH_LEVELS ? level : STRETCH_LEVELS;
        out[(size_t)x * (size_t)step] = s->level[(int)level];
    }
}
