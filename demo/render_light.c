#include "demo/render_light.h"

#include "base/clamp.h"
#include "base/random.h"
#include "base/units.h"
#include "demo/value_noise.h"

#include <math.h>
#include <stdlib.h>

enum { STEP = 16 };

/* Of the sky's light, what a dark wood in front of it sends. */
static const float foreground_glow = 0.06f;

/* Light that the lens lets through: the fourth power of the cosine, as if of a longer lens. */
static double through_lens(const struct render_light *light, const struct lens *lens, double x,
                           double y)
{
    double corner = lens->corner_px > 0 ? lens->corner_px : hypot(lens->width, lens->height) / 2;
    double dx = x - lens->width / 2.0 - lens->axis_x, dy = y - lens->height / 2.0 - lens->axis_y;
    double loss = 1 / sqrt(1 - clamp(light->vignetting, 0, 0.95)) - 1;
    double falloff = 1 + loss * (dx * dx + dy * dy) / (corner * corner);
    return 1 / (falloff * falloff);
}

/* Magnitudes that clouds take: half of the sky is nearly clear, lumps are thick. */
static double cloud_at(const struct render_light *light, const struct lens *lens, double x,
                       double y)
{
    if (!(light->cloud > 0)) {
        return 0;
    }
    double scale = 4.0 / lens->width;
    double lump = clamp((value_noise(light->seed, x * scale, y * scale, 4) - 0.4) / 0.35, 0, 1);
    return light->cloud * 2.5 * lump * lump * (3 - 2 * lump);
}

static void fill_grid(struct light_map *map, const struct render_light *light,
                      const struct lens *lens)
{
    double reach = hypot(lens->width, lens->height) / 2;
    double moon_x = cos(light->moon_angle_deg * RAD_PER_DEG);
    double moon_y = sin(light->moon_angle_deg * RAD_PER_DEG);
    for (int i = 0; i < map->columns * map->rows; i++) {
        double x = i % map->columns * STEP, y = i / map->columns * STEP;
        double lens_share = through_lens(light, lens, x, y);
        double cloud = cloud_at(light, lens, x, y);
        double towards_moon =
            ((x - lens->width / 2.0) * moon_x + (y - lens->height / 2.0) * moon_y) / reach;
        map->pass[i] = (float)(lens_share * pow(10, -0.4 * cloud));
        /* A lit cloud adds more of the town's and Moon's light than it takes away. */
        double sky = fmax(1 + light->moon_glow * towards_moon, 0.1) * (1 + 0.5 * cloud);
        map->glow[i] = (float)(lens_share * sky);
    }
}

/* A hill with trees, and a gabled roof at a third from the left. */
static int skyline_at(const struct render_light *light, const struct lens *lens, int x)
{
    if (!(light->foreground > 0)) {
        return lens->height;
    }
    double across = (double)x / lens->width;
    double hill = 0.5 + 0.5 * value_noise(light->seed + 50, across * 3, 0, 2);
    double trees = 0.5 * value_noise(light->seed + 60, across * 40, 0, 5);
    double roof = 0.33 - fabs(across - 0.3) < 0.25 ? 0 : 0.9 - 2 * fabs(across - 0.3);
    double top = light->foreground * lens->height * fmax(0.75 * (hill + trees), roof * 1.4);
    return (int)clamp(lens->height - top, 0, lens->height);
}

int light_map_make(struct light_map *map, const struct render_light *light, const struct lens *lens,
                   struct error *err)
{
    *map = (struct light_map){.step = STEP, .width = lens->width, .height = lens->height};
    map->wires = light->wires;
    map->seed = light->seed;
    map->columns = lens->width / STEP + 2;
    map->rows = lens->height / STEP + 2;
    size_t cells = (size_t)map->columns * (size_t)map->rows;
    map->pass = malloc(cells * sizeof *map->pass);
    map->glow = malloc(cells * sizeof *map->glow);
    map->skyline = malloc((size_t)lens->width * sizeof *map->skyline);
    if (!map->pass || !map->glow || !map->skyline) {
        light_map_free(map);
        return error_memory(err);
    }
    fill_grid(map, light, lens);
    for (int x = 0; x < lens->width; x++) {
        map->skyline[x] = skyline_at(light, lens, x);
    }
    return 0;
}

void light_map_free(struct light_map *map)
{
    free(map->pass);
    free(map->glow);
    free(map->skyline);
    *map = (struct light_map){0};
}

double light_map_pass(const struct light_map *map, double x, double y)
{
    x = clamp(x, 0, map->width - 1);
    y = clamp(y, 0, map->height - 1);
    if (y >= map->skyline[(int)x]) {
        return 0;
    }
    int i = (int)(x / STEP), j = (int)(y / STEP);
    double s = x / STEP - i, t = y / STEP - j;
    const float *at = map->pass + j * map->columns + i;
    return (at[0] * (1 - s) + at[1] * s) * (1 - t) +
           (at[map->columns] * (1 - s) + at[map->columns + 1] * s) * t;
}

/* Wires hang in parabolas, a few px thick, out of focus no more than stars. */
void light_map_wire(int *from, int *to, const struct light_map *map, int i, int x)
{
    struct random random = {map->seed * 31 + (uint64_t)i + 90};
    double across = (double)x / map->width - 0.5, high = map->height;
    double y = random_between(&random, 0.1, 0.8) * high;
    y += random_between(&random, -0.5, 0.5) * high * across;
    y -= random_between(&random, 0.05, 0.3) * high * across * across;
    double half = random_between(&random, 1.5, 5);
    *from = (int)clamp(ceil(y - half), 0, high);
    *to = (int)clamp(ceil(y + half), 0, high);
}

void light_map_glow_row(float *out, const struct light_map *map, int y)
{
    int j = y / STEP;
    float t = (float)(y % STEP) / STEP;
    const float *upper = map->glow + j * map->columns, *lower = upper + map->columns;
    for (int i = 0; i * STEP < map->width; i++) {
        float left = upper[i] * (1 - t) + lower[i] * t;
        float right = upper[i + 1] * (1 - t) + lower[i + 1] * t;
        int cells = map->width - i * STEP < STEP ? map->width - i * STEP : STEP;
        for (int k = 0; k < cells; k++) {
            out[i * STEP + k] = left + (right - left) * (float)k / STEP;
        }
    }
    for (int x = 0; x < map->width; x++) {
        if (y >= map->skyline[x]) {
            out[x] = foreground_glow;
        }
    }
    for (int i = 0; i < map->wires; i++) {
        for (int x = 0; x < map->width; x++) {
            int from, to;
            light_map_wire(&from, &to, map, i, x);
            out[x] = y >= from && y < to ? foreground_glow : out[x];
        }
    }
}
