#include "demo/render_brush.h"

#include "base/units.h"

#include <math.h>
#include <stdbool.h>

/* Share of the light and width, in units of the core's. */
static const struct {
    double share, width;
} layers[] = {{0.820, 0.95}, {0.155, 1.9}, {0.020, 4.5}, {0.005, 13}};

enum { LAYERS = sizeof layers / sizeof *layers };

void brush_make(struct brush *brush)
{
    for (int i = 0; i < BRUSH_TABLE; i++) {
        double t = (double)i / BRUSH_STEPS;
        brush->density[i] = (float)exp(-t * t / 2);
    }
    for (int i = 0; i < 2 * BRUSH_TABLE; i++) {
        double t = (double)i / BRUSH_STEPS - BRUSH_REACH;
        brush->integral[i] = (float)(0.5 * erfc(-t / sqrt(2)));
    }
}

static float density(const struct brush *brush, float t)
{
    float place = fabsf(t) * BRUSH_STEPS;
    if (place >= BRUSH_TABLE - 2) {
        return 0;
    }
    int i = (int)place;
    return brush->density[i] + (brush->density[i + 1] - brush->density[i]) * (place - (float)i);
}

static float integral(const struct brush *brush, float t)
{
    float place = (t + BRUSH_REACH) * BRUSH_STEPS;
    if (place <= 0) {
        return 0;
    }
    if (place >= 2 * BRUSH_REACH * BRUSH_STEPS) {
        return 1;
    }
    int i = (int)place;
    return brush->integral[i] + (brush->integral[i + 1] - brush->integral[i]) * (place - (float)i);
}

/* One Gaussian drawn out along a line. */
struct layer {
    float sigma, half_length; /* px; half_length in sigmas */
    float cos_angle, sin_angle;
    float scale; /* electrons: value = scale * across * along */
    float reach;
};

/* False if it would not be seen anywhere. */
static bool layer_make(struct layer *layer, const struct stroke *stroke, int which, double floor)
{
    double core = stroke->fwhm / 2.3548 * layers[which].width;
    double sigma = sqrt(core * core + 1 / 12.0); /* a pixel gathers light over its whole square */
    /* A round star is a trail too short to see. */
    double length = fmax(hypot(stroke->trail_x, stroke->trail_y), 0.2 * sigma);
    double angle = atan2(stroke->trail_y, stroke->trail_x);
    double light = stroke->electrons * layers[which].share;
    double peak = light / (sqrt(2 * PI) * sigma) * erf(length / 2 / sigma / sqrt(2)) / length;
    if (!(peak > floor)) {
        return false;
    }
    layer->sigma = (float)sigma;
    layer->half_length = (float)(length / 2 / sigma);
    layer->cos_angle = (float)cos(angle);
    layer->sin_angle = (float)sin(angle);
    layer->scale = (float)(light / (sqrt(2 * PI) * sigma * length));
    layer->reach = (float)(sigma * fmin(sqrt(2 * log(peak / floor)), BRUSH_REACH - 0.5));
    return true;
}

static void draw_layer(float *plane, int width, int height, const struct brush *brush,
                       const struct stroke *stroke, const struct layer *layer)
{
    double wide = fabs(stroke->trail_x) / 2 + layer->reach;
    double high = fabs(stroke->trail_y) / 2 + layer->reach;
    int left = (int)fmax(ceil(stroke->x - wide), 0), top = (int)fmax(ceil(stroke->y - high), 0);
    int right = (int)fmin(floor(stroke->x + wide), width - 1);
    int bottom = (int)fmin(floor(stroke->y + high), height - 1);
    float along_step = layer->cos_angle / layer->sigma;
    float across_step = -layer->sin_angle / layer->sigma;
    for (int y = top; y <= bottom; y++) {
        float *row = plane + (long)y * width;
        float dy = (float)(y - stroke->y), dx = (float)(left - stroke->x);
        float along = (dx * layer->cos_angle + dy * layer->sin_angle) / layer->sigma;
        float across = (dy * layer->cos_angle - dx * layer->sin_angle) / layer->sigma;
        const float *gain = stroke->gain.at[y & 1];
        for (int x = left; x <= right; x++) {
            float spread = density(brush, across);
            if (spread > 0) {
                row[x] += layer->scale * spread * gain[x & 1] *
                          (integral(brush, along + layer->half_length) -
                           integral(brush, along - layer->half_length));
            }
            along += along_step;
            across += across_step;
        }
    }
}

void brush_draw(float *plane, int width, int height, const struct brush *brush,
                const struct stroke *stroke, double floor)
{
    for (int i = 0; i < LAYERS; i++) {
        struct layer layer;
        if (layer_make(&layer, stroke, i, floor)) {
            draw_layer(plane, width, height, brush, stroke, &layer);
        }
    }
}

double brush_drawn_fwhm(double fwhm)
{
    double low = 0, high = 4 * fwhm;
    for (int i = 0; i < 60; i++) {
        double r = (low + high) / 2, here = 0, top = 0;
        for (int k = 0; k < LAYERS; k++) {
            double core = fwhm / 2.3548 * layers[k].width, variance = core * core + 1 / 12.0;
            double height = layers[k].share / variance;
            top += height;
            here += height * exp(-r * r / (2 * variance));
        }
        *(here > top / 2 ? &low : &high) = r;
    }
    return 2 * low;
}
