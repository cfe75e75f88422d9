#include "demo/nebulae.h"

#include "base/file.h"
#include "base/random.h"
#include "base/table.h"
#include "base/units.h"
#include "demo/mosaic.h"
#include "demo/value_noise.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double gas_mag_sqarcsec = 22.5;
static const double even_rim = 0.02; /* how softly it ends, a part of its radius */

enum { RA, DEC, TYPE, MAGNITUDE, MAJOR, MINOR, ANGLE, COLUMNS };

static bool is_patch(const char *type, bool *lumpy)
{
    *lumpy = strstr(type, "nebula") || strstr(type, "supernova");
    return strcmp(type, "dark nebula") != 0 &&
           (*lumpy || strcmp(type, "galaxy") == 0 || strcmp(type, "globular cluster") == 0);
}

/* False if the row is nothing to draw. */
static bool read_row(struct nebula *nebula, const struct table *table, const int column[COLUMNS])
{
    double ra, dec, major, minor;
    char type[40];
    table_text(table, column[TYPE], type, sizeof type);
    if (!is_patch(type, &nebula->lumpy) || !table_double(table, column[RA], &ra) ||
        !table_double(table, column[DEC], &dec) || !table_double(table, column[MAJOR], &major) ||
        !(major > 0) || major > 400) {
        return false;
    }
    if (!table_double(table, column[MINOR], &minor) || !(minor > 0)) {
        minor = major;
    }
    if (!table_double(table, column[MAGNITUDE], &nebula->mag)) {
        if (!nebula->lumpy) {
            return false;
        }
        nebula->mag = gas_mag_sqarcsec - 2.5 * log10(PI / 4 * major * minor * 3600);
    }
    vector_from_radec(nebula->v, ra, dec);
    nebula->even = strcmp(type, "even nebula") == 0;
    nebula->major_deg = major / 60;
    nebula->minor_deg = minor / 60;
    nebula->seed = (uint64_t)(ra * 1e4) * 100003 + (uint64_t)((dec + 90) * 1e4);
    struct random random = {nebula->seed};
    if (!table_double(table, column[ANGLE], &nebula->angle_deg)) {
        nebula->angle_deg = random_between(&random, 0, 180);
    }
    return true;
}

static int read_rows(struct nebulae *nebulae, struct table *table, struct error *err)
{
    static const char *const names[COLUMNS] = {
        "ra_deg", "dec_deg", "type", "magnitude", "major_arcmin", "minor_arcmin", "angle_deg"};
    int column[COLUMNS], capacity = 0;
    for (int i = 0; i < COLUMNS; i++) {
        column[i] = table_column(table, names[i]);
        if (column[i] < 0) {
            return error_set(err, ERROR_INPUT, "%s: no column %s", table->name, names[i]);
        }
    }
    while (table_next(table)) {
        if (nebulae->count == capacity) {
            capacity = capacity ? 2 * capacity : 4096;
            struct nebula *more = realloc(nebulae->nebula, (size_t)capacity * sizeof *more);
            if (!more) {
                return error_memory(err);
            }
            nebulae->nebula = more;
        }
        nebulae->count += read_row(&nebulae->nebula[nebulae->count], table, column);
    }
    return 0;
}

int nebulae_load(struct nebulae *nebulae, const char *name, struct error *err)
{
    struct file_map map = {0};
    struct table table;
    *nebulae = (struct nebulae){0};
    int result = file_map_open(&map, name, err);
    if (!result) {
        result = table_open(&table, (const char *)map.bytes, map.size, name, err);
    }
    if (!result) {
        result = read_rows(nebulae, &table, err);
    }
    file_map_close(&map);
    if (result) {
        nebulae_free(nebulae);
    }
    return result;
}

void nebulae_free(struct nebulae *nebulae)
{
    free(nebulae->nebula);
    *nebulae = (struct nebulae){0};
}

/* A patch as it lies in the picture: pixels to units of its own radii. */
struct patch {
    double x, y;
    double to_major[2], to_minor[2];
    double minor; /* px */
    double reach; /* px that hold everything */
    double light; /* electrons a pixel in the middle, for a profile exp(-r) or exp(-r^2 / 2) */
};

/* False if it is not in the picture or too faint to matter. */
static bool patch_make(struct patch *patch, const struct nebula *nebula, const struct lens *lens,
                       const struct lens_plan *plan, const struct camera *camera, double floor_e)
{
    double ra, dec, north_ra, north_dec, x, y;
    if (!lens_plan_pixel(&patch->x, &patch->y, plan, nebula->v)) {
        return false;
    }
    vector_to_radec(&ra, &dec, nebula->v);
    radec_offset(&north_ra, &north_dec, ra, dec, nebula->angle_deg, 0.001);
    double v[3];
    vector_from_radec(v, north_ra, north_dec);
    if (!lens_plan_pixel(&x, &y, plan, v)) {
        return false;
    }
    double along_x = x - patch->x, along_y = y - patch->y, px = hypot(along_x, along_y);
    /* Catalogued sizes end where the light is a few per cent of that in the middle. */
    double radii = nebula->even ? 2 : nebula->lumpy ? 4 : 6.4;
    double per_degree = px / 0.001, blur = camera->fwhm_px / 2;
    double major = fmax(nebula->major_deg * per_degree / radii, blur);
    double minor = fmax(nebula->minor_deg * per_degree / radii, blur);
    patch->minor = minor;
    patch->to_major[0] = along_x / px / major;
    patch->to_major[1] = along_y / px / major;
    patch->to_minor[0] = -along_y / px / minor;
    patch->to_minor[1] = along_x / px / minor;
    patch->light = camera_star_e(camera, nebula->mag) / (2 * PI * major * minor);
    patch->reach = (nebula->lumpy ? 3 : 6) * major;
    return patch->x > -patch->reach && patch->x < lens->width + patch->reach &&
           patch->y > -patch->reach && patch->y < lens->height + patch->reach &&
           3 * patch->light > floor_e;
}

/* Half of the light comes from a core a fifth as wide: a bulge, or gas around its stars. Summed
 * over all pixels of a patch with radii of 1 px both profiles give about 2 pi. */
static double profile(const struct nebula *nebula, double s, double t)
{
    double square = s * s + t * t;
    if (nebula->even) {
        return 2 / (1 + exp((sqrt(square) - 1) / even_rim));
    }
    if (!nebula->lumpy) {
        double r = sqrt(square);
        return 0.5 * (exp(-r) + 25 * exp(-5 * r));
    }
    double lumps = value_noise(nebula->seed, 1.2 * s, 1.2 * t, 5);
    double contrast = 10 * pow(lumps, 4); /* mean about 1 */
    return 0.5 * (exp(-square / 2) + 25 * exp(-25 * square / 2)) * contrast;
}

/* Profile along one row of a coarse grid. */
static void profile_row(float *out, int cells, const struct nebula *nebula,
                        const struct patch *patch, double left, double y, int step)
{
    double dy = y - patch->y;
    for (int i = 0; i < cells; i++) {
        double dx = left + i * step - patch->x;
        double s = dx * patch->to_major[0] + dy * patch->to_major[1];
        double t = dx * patch->to_minor[0] + dy * patch->to_minor[1];
        out[i] = s * s + t * t < 36 ? (float)profile(nebula, s, t) : 0;
    }
}

static void add_row(float *row, int left, int right, int top_share, const float *upper,
                    const float *lower, int step, float light, const float gain[2])
{
    float t = (float)top_share / (float)step;
    for (int x = left; x <= right; x++) {
        int i = (x - left) / step;
        float s = (float)((x - left) % step) / (float)step;
        float high = upper[i] + (upper[i + 1] - upper[i]) * s;
        float low = lower[i] + (lower[i + 1] - lower[i]) * s;
        row[x] += light * gain[x & 1] * (high + (low - high) * t);
    }
}

/* A big patch is smooth: it is computed on a grid of step px and interpolated. */
static int draw_patch(float *plane, const struct nebula *nebula, const struct patch *patch,
                      const struct lens *lens, const struct light_map *map, bool mosaic,
                      struct error *err)
{
    int left = (int)fmax(patch->x - patch->reach, 0), top = (int)fmax(patch->y - patch->reach, 0);
    int right = (int)fmin(patch->x + patch->reach, lens->width - 1);
    int bottom = (int)fmin(patch->y + patch->reach, lens->height - 1);
    int step = (int)fmin(fmax(patch->minor / 30, 1), 32), cells = (right - left) / step + 2;
    float light = (float)(light_map_pass(map, patch->x, patch->y) * patch->light);
    if (right < left || bottom < top) {
        return 0;
    }
    /* Gas glows red; galaxies and clusters are as yellow as their stars. */
    struct mosaic_gain gain = mosaic ? mosaic_of_colour(nebula->lumpy ? 1.4 : 0.85) : mosaic_grey();
    float *upper = malloc(2 * (size_t)cells * sizeof *upper);
    if (!upper) {
        return error_memory(err);
    }
    float *lower = upper + cells;
    for (int y = top; y <= bottom; y++) {
        int share = (y - top) % step;
        if (share == 0) {
            profile_row(upper, cells, nebula, patch, left, y, step);
            profile_row(lower, cells, nebula, patch, left, y + step, step);
        }
        add_row(plane + (long)y * lens->width, left, right, share, upper, lower, step, light,
                gain.at[y & 1]);
    }
    free(upper);
    return 0;
}

int nebulae_draw(float *plane, const struct nebulae *nebulae, const struct lens *lens,
                 const struct wcs *wcs, const struct camera *camera, const struct light_map *map,
                 double floor_e, bool mosaic, struct error *err)
{
    struct lens_plan plan;
    int result = 0;
    lens_plan_make(&plan, lens, wcs);
    for (int i = 0; i < nebulae->count && !result; i++) {
        struct patch patch;
        if (patch_make(&patch, &nebulae->nebula[i], lens, &plan, camera, floor_e)) {
            result = draw_patch(plane, &nebulae->nebula[i], &patch, lens, map, mosaic, err);
        }
    }
    return result;
}
