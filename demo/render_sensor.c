#include "demo/render_sensor.h"

#include "base/random.h"
#include "base/units.h"
#include "demo/mosaic.h"

#include <math.h>
#include <stdlib.h>

enum { QUANTILES = 65536 };

/* Of a sky lit by a town. */
static const double lamp_b_v = 1.0;

/* What a row needs. Everything a pixel needs is looked up or vectorised: 6 million take a blink. */
struct exposure {
    float *normal;   /* QUANTILES equally likely values */
    float *glow;     /* of the sky in this row */
    float *column_e; /* fixed offsets of the columns */
    const struct render_sensor *sensor;
    const struct light_map *map;
    float sky_e, read_variance, frames;
    struct mosaic_gain sky_gain;
    struct random random;
};

/* Quantiles of the normal distribution by Newton's method, each started from its neighbour. */
static void fill_normal(float *normal)
{
    double x = 0;
    for (int i = QUANTILES / 2; i < QUANTILES; i++) {
        double above = 1 - (i + 0.5) / QUANTILES;
        for (int step = 0; step < 3; step++) {
            double tail = 0.5 * erfc(x / sqrt(2));
            x += (tail - above) * sqrt(2 * PI) * exp(x * x / 2);
        }
        normal[i] = (float)x;
        normal[QUANTILES - 1 - i] = -(float)x;
    }
}

static void exposure_free(struct exposure *exposure)
{
    free(exposure->normal);
    free(exposure->glow);
    free(exposure->column_e);
    *exposure = (struct exposure){0};
}

static int exposure_make(struct exposure *exposure, const struct render_sensor *sensor,
                         const struct camera *camera, const struct light_map *map,
                         uint64_t noise_seed, struct error *err)
{
    *exposure = (struct exposure){.sensor = sensor, .map = map, .random = {noise_seed}};
    exposure->sky_e = (float)camera_sky_e(camera);
    exposure->sky_gain = sensor->mosaic ? mosaic_of_colour(lamp_b_v) : mosaic_grey();
    exposure->read_variance = (float)(camera->read_noise_e * camera->read_noise_e);
    exposure->frames = camera->stacked > 1 ? (float)camera->stacked : 1;
    exposure->normal = malloc(QUANTILES * sizeof *exposure->normal);
    exposure->glow = malloc((size_t)map->width * sizeof *exposure->glow);
    exposure->column_e = malloc((size_t)map->width * sizeof *exposure->column_e);
    if (!exposure->normal || !exposure->glow || !exposure->column_e) {
        exposure_free(exposure);
        return error_memory(err);
    }
    fill_normal(exposure->normal);
    struct random fixed = {sensor->seed + 7};
    for (int x = 0; x < map->width; x++) {
        /* In a stack, frames that lie a little apart average it out. */
        double offset = sensor->pattern_e * random_normal(&fixed);
        exposure->column_e[x] = (float)offset / exposure->frames;
    }
    return 0;
}

/* Electrons counted in one pixel: Poisson's distribution as a normal one with the first term of
 * Cornish and Fisher's expansion for its skewness. */
static float count_electrons(float mean, float read_variance, float frames, float normal)
{
    float variance = mean + read_variance;
    float skew = mean / (6 * variance * frames) * (normal * normal - 1);
    return mean + sqrtf(variance / frames) * normal + skew;
}

static void expose_row(float *row, struct exposure *exposure, int y)
{
    const struct render_sensor *sensor = exposure->sensor;
    float per_e = (float)(1 / sensor->e_per_adu), black = (float)sensor->black_adu;
    /* The mean of many frames knows nothing of what each of them clipped. */
    float most_e = exposure->frames > 1 ? (SENSOR_WHITE - black) / per_e : INFINITY;
    float row_e = (float)(sensor->pattern_e * random_normal(&exposure->random));
    row_e /= sqrtf(exposure->frames);
    uint64_t bits = 0;
    const float *gain = exposure->sky_gain.at[y & 1];
    light_map_glow_row(exposure->glow, exposure->map, y);
    double high = exposure->map->height, wide = exposure->map->width;
    double down = (y - high / 2) / (0.25 * high);
    double warm_e = sensor->amp_glow_e * exp(-down * down / 2);
    for (int x = 0; x < exposure->map->width; x++) {
        bits = x % 4 ? bits >> 16 : random_bits(&exposure->random);
        float mean = row[x] + exposure->sky_e * exposure->glow[x] * gain[x & 1];
        if (warm_e > 0.01) {
            mean += (float)(warm_e * exp((x - wide) / (0.08 * wide)));
        }
        mean = fminf(mean, most_e);
        float e = count_electrons(mean, exposure->read_variance, exposure->frames,
                                  exposure->normal[bits & 0xffff]);
        float adu = black + (e + row_e + exposure->column_e[x]) * per_e;
        if (exposure->frames == 1) {
            adu = floorf(adu + 0.5f);
        }
        row[x] = fminf(fmaxf(adu, 0), SENSOR_WHITE);
    }
}

/* Most hot pixels are warm, a few are full. */
static void add_hot_pixels(float *adu, const struct render_sensor *sensor,
                           const struct camera *camera, int width, int height)
{
    struct random random = {sensor->seed + 13};
    double pixels = (double)width * height;
    for (double left = floor(pixels * sensor->hot_share); left > 0; left--) {
        long at = (long)(random_uniform(&random) * pixels);
        double charge_e = 50 * camera->exposure_s * pow(random_uniform(&random), -1.2);
        adu[at] = fminf(floorf(adu[at] + (float)(charge_e / sensor->e_per_adu)), SENSOR_WHITE);
    }
}

static void kill_columns(float *adu, const struct render_sensor *sensor, int width, int height)
{
    struct random random = {sensor->seed + 17};
    for (int i = 0; i < sensor->dead_columns; i++) {
        int x = (int)(random_uniform(&random) * width);
        int from = (int)(random_uniform(&random) * height * 0.5);
        float value = i % 2 ? SENSOR_WHITE / 8 : 0;
        for (int y = from; y < height; y++) {
            adu[(long)y * width + x] = value;
        }
    }
}

int sensor_expose(float *light, const struct render_sensor *sensor, const struct camera *camera,
                  const struct light_map *map, uint64_t noise_seed, struct error *err)
{
    struct exposure exposure;
    int result = exposure_make(&exposure, sensor, camera, map, noise_seed, err);
    if (result) {
        return result;
    }
    for (int y = 0; y < map->height; y++) {
        expose_row(light + (long)y * map->width, &exposure, y);
    }
    if (exposure.frames == 1) {
        add_hot_pixels(light, sensor, camera, map->width, map->height);
        kill_columns(light, sensor, map->width, map->height);
    }
    exposure_free(&exposure);
    return 0;
}
