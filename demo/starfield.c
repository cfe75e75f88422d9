#include "demo/starfield.h"

#include "base/file.h"
#include "base/random.h"
#include "base/table.h"
#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double whole_sky_sqdeg = 41252.96;
static const double first_mag = 6.5, bin_mag = 0.5;

static int clamp(int value, int low, int high)
{
    return value < low ? low : value > high ? high : value;
}

/* Sine of the galactic latitude. The pole is at RA 192.85948, Dec 27.12825 (ICRS). */
static double sin_galactic_latitude(const double v[3])
{
    static const double pole[3] = {-0.8676661490, -0.1980763734, 0.4559837762};
    return vector_dot(v, pole);
}

double starfield_whole_sky(double mag)
{
    static const double count[] = {5000,  15700, 45000, 124000, 340000, 900000,
                                   2.5e6, 6.2e6, 15e6,  33e6,   70e6};
    double place = fmin(fmax(mag - 6, 0), 10);
    int i = clamp((int)place, 0, 9);
    return count[i] * pow(count[i + 1] / count[i], place - i);
}

double starfield_crowding(double mag, double sin_b)
{
    /* The plane outnumbers the poles 3 times at V 7, 4.5 times at V 13. */
    double ratio = 3 + 0.25 * (mag - 7), reach = 0.35;
    double mean = 1 + (ratio - 1) * reach * (1 - exp(-1 / reach));
    return (1 + (ratio - 1) * exp(-fabs(sin_b) / reach)) / mean;
}

static void lay_out_bands(struct starfield *field)
{
    field->band_start[0] = 0;
    for (int i = 0; i < STARFIELD_BANDS; i++) {
        int cells = (int)ceil(360 * cos((i - 89.5) * RAD_PER_DEG));
        field->band_start[i + 1] = field->band_start[i] + cells;
    }
}

static int cell_of(const struct starfield *field, const double v[3])
{
    double ra, dec;
    vector_to_radec(&ra, &dec, v);
    int band = clamp((int)floor(dec + 90), 0, STARFIELD_BANDS - 1);
    int start = field->band_start[band], cells = field->band_start[band + 1] - start;
    return start + clamp((int)(ra / 360 * cells), 0, cells - 1);
}

/* Appends the row if it is a star; false if memory is short. */
static bool add_row(struct starfield *field, int *capacity, const struct table *table,
                    const int column[5])
{
    double ra, dec, mag, b_v, hip;
    if (!table_double(table, column[0], &ra) || !table_double(table, column[1], &dec) ||
        !table_double(table, column[2], &mag)) {
        return true;
    }
    if (field->count == *capacity) {
        int grown = *capacity ? *capacity * 2 : 131072;
        struct sky_star *star = realloc(field->star, (size_t)grown * sizeof *star);
        if (!star) {
            return false;
        }
        field->star = star;
        *capacity = grown;
    }
    struct sky_star *star = &field->star[field->count++];
    vector_from_radec(star->v, ra, dec);
    star->mag = (float)mag;
    star->b_v = table_double(table, column[3], &b_v) ? (float)b_v : 0.6f;
    star->hip = table_double(table, column[4], &hip) && hip > 0 ? (uint32_t)hip : 0;
    return true;
}

static int read_stars(struct starfield *field, const char *name, struct error *err)
{
    static const char *const wanted[5] = {"ra_deg", "dec_deg", "v_mag", "b_v", "hip"};
    struct file_map map = {0};
    struct table table;
    int column[5], capacity = 0;
    int result = file_map_open(&map, name, err);
    if (!result) {
        result = table_open(&table, (const char *)map.bytes, map.size, name, err);
    }
    for (int i = 0; i < 5 && !result; i++) {
        column[i] = table_column(&table, wanted[i]);
        if (column[i] < 0) {
            result = error_set(err, ERROR_INPUT, "%s: no column %s", name, wanted[i]);
        }
    }
    while (!result && table_next(&table)) {
        if (!add_row(field, &capacity, &table, column)) {
            result = error_memory(err);
        }
    }
    if (!result && !field->count) {
        result = error_set(err, ERROR_INPUT, "%s: holds no stars", name);
    }
    file_map_close(&map);
    return result;
}

static int by_mag(const void *a, const void *b)
{
    const struct sky_star *s = a, *t = b;
    if (s->mag != t->mag) {
        return s->mag < t->mag ? -1 : 1;
    }
    return s->hip < t->hip ? -1 : s->hip > t->hip;
}

/* Sorts by cell, keeping the order by magnitude inside each. */
static int sort_into_cells(struct starfield *field, struct error *err)
{
    int cells = field->band_start[STARFIELD_BANDS];
    qsort(field->star, (size_t)field->count, sizeof *field->star, by_mag);
    struct sky_star *sorted = malloc((size_t)field->count * sizeof *sorted);
    int *start = calloc((size_t)cells + 2, sizeof *start);
    int *cell = malloc((size_t)field->count * sizeof *cell);
    if (!sorted || !start || !cell) {
        free(sorted);
        free(start);
        free(cell);
        return error_memory(err);
    }
    for (int i = 0; i < field->count; i++) {
        cell[i] = cell_of(field, field->star[i].v);
        start[cell[i] + 2]++;
    }
    for (int i = 2; i <= cells; i++) {
        start[i] += start[i - 1];
    }
    for (int i = 0; i < field->count; i++) {
        sorted[start[cell[i] + 1]++] = field->star[i];
    }
    free(cell);
    free(field->star);
    field->star = sorted;
    field->cell_start = start;
    return 0;
}

/* What the listed stars leave to be made up, in each half magnitude and belt. */
static void find_shortfall(struct starfield *field)
{
    double listed[STARFIELD_BINS][STARFIELD_BELTS] = {{0}};
    for (int i = 0; i < field->count; i++) {
        const struct sky_star *star = &field->star[i];
        int bin = (int)floor((star->mag - first_mag) / bin_mag);
        if (bin >= 0 && bin < STARFIELD_BINS) {
            double height = fabs(sin_galactic_latitude(star->v));
            listed[bin][clamp((int)(height * STARFIELD_BELTS), 0, STARFIELD_BELTS - 1)]++;
        }
    }
    for (int bin = 0; bin < STARFIELD_BINS; bin++) {
        double mag = first_mag + bin * bin_mag;
        double real = starfield_whole_sky(mag + bin_mag) - starfield_whole_sky(mag);
        for (int belt = 0; belt < STARFIELD_BELTS; belt++) {
            double height = (belt + 0.5) / STARFIELD_BELTS;
            double share = starfield_crowding(mag + bin_mag / 2, height) / STARFIELD_BELTS;
            double lack = fmax(real * share - listed[bin][belt], 0);
            field->missing[bin][belt] = lack / (whole_sky_sqdeg / STARFIELD_BELTS);
        }
    }
}

int starfield_load(struct starfield *field, const char *name, uint64_t seed, struct error *err)
{
    *field = (struct starfield){.seed = seed};
    lay_out_bands(field);
    int result = read_stars(field, name, err);
    if (!result) {
        result = sort_into_cells(field, err);
    }
    if (result) {
        starfield_free(field);
        return result;
    }
    find_shortfall(field);
    return 0;
}

void starfield_free(struct starfield *field)
{
    free(field->star);
    free(field->cell_start);
    *field = (struct starfield){0};
}

/* ---- looking ---- */

struct cap {
    const double *v;
    double cos_radius, limit;
};

static bool view_add(struct sky_view *view, const struct sky_star *star)
{
    if (view->count == view->capacity) {
        int grown = view->capacity ? view->capacity * 2 : 1024;
        struct sky_star *more = realloc(view->star, (size_t)grown * sizeof *more);
        if (!more) {
            return false;
        }
        view->star = more;
        view->capacity = grown;
    }
    view->star[view->count++] = *star;
    return true;
}

static bool add_listed(struct sky_view *view, const struct starfield *field, int cell,
                       const struct cap *cap)
{
    for (int i = field->cell_start[cell]; i < field->cell_start[cell + 1]; i++) {
        const struct sky_star *star = &field->star[i];
        if (star->mag >= cap->limit) {
            break;
        }
        if (vector_dot(star->v, cap->v) >= cap->cos_radius && !view_add(view, star)) {
            return false;
        }
    }
    return true;
}

/* Density of made-up stars at a height above the galactic plane, between the middles of belts. */
static double made_up_density(const struct starfield *field, int bin, double sin_b)
{
    double place = fmin(fmax(fabs(sin_b) * STARFIELD_BELTS - 0.5, 0), STARFIELD_BELTS - 1);
    int belt = clamp((int)place, 0, STARFIELD_BELTS - 2);
    const double *missing = field->missing[bin];
    return missing[belt] + (missing[belt + 1] - missing[belt]) * (place - belt);
}

struct cell_bounds {
    double ra_low, ra_width;   /* radians */
    double sin_low, sin_width; /* of the declination */
    double area_sqdeg, sin_b;
};

static void cell_bounds(struct cell_bounds *bounds, const struct starfield *field, int band,
                        int cell)
{
    int cells = field->band_start[band + 1] - field->band_start[band];
    double middle[3];
    bounds->ra_width = 360 * RAD_PER_DEG / cells;
    bounds->ra_low = (cell - field->band_start[band]) * bounds->ra_width;
    bounds->sin_low = sin((band - 90) * RAD_PER_DEG);
    bounds->sin_width = sin((band - 89) * RAD_PER_DEG) - bounds->sin_low;
    bounds->area_sqdeg = bounds->ra_width * bounds->sin_width / (RAD_PER_DEG * RAD_PER_DEG);
    vector_from_radec(middle, (bounds->ra_low + bounds->ra_width / 2) * DEG_PER_RAD, band - 89.5);
    bounds->sin_b = sin_galactic_latitude(middle);
}

static void make_up_star(struct sky_star *star, struct random *random,
                         const struct cell_bounds *bounds, double mag)
{
    double ra = bounds->ra_low + bounds->ra_width * random_uniform(random);
    double z = bounds->sin_low + bounds->sin_width * random_uniform(random);
    double across = sqrt(1 - z * z);
    star->v[0] = across * cos(ra);
    star->v[1] = across * sin(ra);
    star->v[2] = z;
    /* Inside the bin, counts grow threefold a magnitude. */
    star->mag = (float)(mag + log1p(random_uniform(random) * (pow(3, bin_mag) - 1)) / log(3));
    /* The sum of three even numbers is normal enough for a spread of colours. */
    double spread = random_uniform(random) + random_uniform(random) + random_uniform(random) - 1.5;
    star->b_v = (float)fmax(0.7 + 0.8 * spread, -0.2);
    star->hip = 0;
}

/* Each half magnitude of a cell has its own seed: a deeper look finds the same stars and more. */
static bool add_made_up(struct sky_view *view, const struct starfield *field, int band, int cell,
                        const struct cap *cap)
{
    struct cell_bounds bounds;
    cell_bounds(&bounds, field, band, cell);
    for (int bin = 0; bin < STARFIELD_BINS && first_mag + bin * bin_mag < cap->limit; bin++) {
        struct random random = {field->seed * 1000003u + (uint64_t)cell * 64 + (uint64_t)bin};
        random.state = random_bits(&random);
        double mean = made_up_density(field, bin, bounds.sin_b) * bounds.area_sqdeg;
        for (double left = random_poisson(&random, mean); left > 0; left--) {
            struct sky_star star;
            make_up_star(&star, &random, &bounds, first_mag + bin * bin_mag);
            if (star.mag < cap->limit && vector_dot(star.v, cap->v) >= cap->cos_radius &&
                !view_add(view, &star)) {
                return false;
            }
        }
    }
    return true;
}

/* Cells of a band that may touch the cap: first and how many, going round. */
static int cells_touched(int *first, const struct starfield *field, int band, double ra_deg,
                         double dec_deg, double radius_deg)
{
    int cells = field->band_start[band + 1] - field->band_start[band];
    double low = band - 90, high = band - 89;
    if (high < dec_deg - radius_deg || low > dec_deg + radius_deg) {
        return 0;
    }
    *first = 0;
    if (dec_deg + radius_deg >= 90 || dec_deg - radius_deg <= -90) {
        return cells;
    }
    /* Half the widest extent of the cap in right ascension, at whatever declination it is. */
    double reach =
        asin(fmin(sin(fmin(radius_deg, 90) * RAD_PER_DEG) / cos(dec_deg * RAD_PER_DEG), 1));
    double first_place = (ra_deg - reach * DEG_PER_RAD) / 360 * cells;
    int count = (int)ceil(2 * reach * DEG_PER_RAD / 360 * cells) + 2;
    *first = ((int)floor(first_place) % cells + cells) % cells;
    return count < cells ? count : cells;
}

int starfield_look(struct sky_view *view, const struct starfield *field, const double v[3],
                   double radius_deg, double limit, struct error *err)
{
    struct cap cap = {v, cos(radius_deg * RAD_PER_DEG), limit};
    double ra, dec;
    vector_to_radec(&ra, &dec, v);
    view->count = 0;
    for (int band = 0; band < STARFIELD_BANDS; band++) {
        int cells = field->band_start[band + 1] - field->band_start[band], first;
        int touched = cells_touched(&first, field, band, ra, dec, radius_deg);
        for (int i = 0; i < touched; i++) {
            int cell = field->band_start[band] + (first + i) % cells;
            if (!add_listed(view, field, cell, &cap) ||
                !add_made_up(view, field, band, cell, &cap)) {
                return error_memory(err);
            }
        }
    }
    return 0;
}

void sky_view_free(struct sky_view *view)
{
    free(view->star);
    *view = (struct sky_view){0};
}
