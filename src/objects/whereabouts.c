#include "objects/whereabouts.h"

#include "base/catalogue_table.h"
#include "base/units.h"
#include "sky/vector.h"

#include <erfa.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CONSTELLATION, POLYGON, RA_B1875, DEC_B1875 };

/* Tables are written to 0.0001 degrees. */
static const double same_deg = 0.0002;

static void *grow(void *items, int count, int *capacity, size_t size)
{
    if (count < *capacity) {
        return items;
    }
    int larger = *capacity ? 2 * *capacity : 128;
    void *grown = realloc(items, size * (size_t)larger);
    *capacity = grown ? larger : *capacity;
    return grown;
}

/* What is being read: the rows of one polygon share constellation and number. */
struct reader {
    struct catalogue_table file;
    struct place_map *map;
    int corner_capacity, polygon_capacity;
    char number[16];
};

static int start_polygon(struct reader *reader, const char *constellation, const char *number,
                         struct error *err)
{
    struct place_map *map = reader->map;
    struct place_polygon *grown =
        grow(map->polygon, map->polygons, &reader->polygon_capacity, sizeof *map->polygon);
    if (!grown) {
        return error_memory(err);
    }
    map->polygon = grown;
    struct place_polygon *polygon = &map->polygon[map->polygons++];
    *polygon = (struct place_polygon){.first = map->corners};
    memcpy(polygon->constellation, constellation, sizeof polygon->constellation);
    memcpy(reader->number, number, sizeof reader->number);
    return 0;
}

static int read_corner(struct reader *reader, struct error *err)
{
    struct place_map *map = reader->map;
    char constellation[8], number[16];
    table_text(&reader->file.table, reader->file.column[CONSTELLATION], constellation,
               sizeof constellation);
    table_text(&reader->file.table, reader->file.column[POLYGON], number, sizeof number);
    if (strlen(constellation) != 3) {
        return catalogue_table_expected(&reader->file, "an abbreviation of three letters", err);
    }
    const struct place_polygon *last = map->polygons ? &map->polygon[map->polygons - 1] : NULL;
    if (!last || strcmp(last->constellation, constellation) != 0 ||
        strcmp(reader->number, number) != 0) {
        int code = start_polygon(reader, constellation, number, err);
        if (code) {
            return code;
        }
    }
    double(*grown)[2] =
        grow(map->corner, map->corners, &reader->corner_capacity, sizeof *map->corner);
    if (!grown) {
        return error_memory(err);
    }
    map->corner = grown;
    double *corner = map->corner[map->corners++];
    map->polygon[map->polygons - 1].count++;
    return catalogue_table_place(&corner[0], &corner[1], &reader->file, RA_B1875, DEC_B1875, err);
}

/* The corner after the i-th of a polygon. */
static const double *next_corner(const struct place_map *map, const struct place_polygon *polygon,
                                 int i)
{
    return map->corner[polygon->first + (i + 1) % polygon->count];
}

/* Checks the edges, and finds out whether they run round the north pole. */
static int close_polygon(const struct place_map *map, struct place_polygon *polygon,
                         const char *name, struct error *err)
{
    double turn = 0, north = 0;
    for (int i = 0; i < polygon->count; i++) {
        const double *a = map->corner[polygon->first + i], *b = next_corner(map, polygon, i);
        double along = angle_wrap_180(b[0] - a[0]);
        if (fabs(along) > same_deg && fabs(b[1] - a[1]) > same_deg) {
            return error_set(err, ERROR_INPUT,
                             "%s: border of %s at right ascension %.4f, declination %.4f (B1875): "
                             "expected an edge along one of the two",
                             name, polygon->constellation, a[0], a[1]);
        }
        turn += along;
        north += a[1];
    }
    polygon->north_pole = fabs(turn) > 180 && north > 0;
    return 0;
}

static void find_b1875(double matrix[3][3])
{
    double day, fraction;
    eraEpb2jd(1875.0, &day, &fraction);
    /* The angles of 1976, which the borders were once precessed with; ICRS and the mean equator
     * of J2000 differ by 0.02". */
    eraPmat76(day, fraction, matrix);
}

int place_map_load(struct place_map *map, const char *folder, struct error *err)
{
    static const char *const columns[] = {"constellation", "polygon", "ra_b1875_deg",
                                          "dec_b1875_deg", NULL};
    struct reader reader = {.map = map};
    memset(map, 0, sizeof *map);
    int code = catalogue_table_open(&reader.file, folder, "constellation-bounds.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&reader.file.table)) {
        code = read_corner(&reader, err);
    }
    for (int i = 0; !code && i < map->polygons; i++) {
        code = close_polygon(map, &map->polygon[i], reader.file.name, err);
    }
    find_b1875(map->to_b1875);
    catalogue_table_close(&reader.file);
    if (code) {
        place_map_free(map);
    }
    return code;
}

void place_map_free(struct place_map *map)
{
    free(map->corner);
    free(map->polygon);
    memset(map, 0, sizeof *map);
}

/* Goes north along the meridian and counts the edges on the way: odd means inside, or outside if
 * the way ends at a pole within. */
static bool contains(const struct place_map *map, const struct place_polygon *polygon, double ra,
                     double dec)
{
    bool inside = polygon->north_pole;
    for (int i = 0; i < polygon->count; i++) {
        const double *a = map->corner[polygon->first + i], *b = next_corner(map, polygon, i);
        double along = angle_wrap_180(b[0] - a[0]);
        if (fabs(along) <= same_deg) {
            continue;
        }
        double west = along < 0 ? b[0] : a[0], east = along < 0 ? a[0] : b[0];
        bool above = west <= east ? ra >= west && ra < east : ra >= west || ra < east;
        inside ^= above && dec < a[1];
    }
    return inside;
}

const char *place_constellation(const struct place_map *map, double ra_deg, double dec_deg)
{
    double icrs[3], old[3], ra, dec;
    if (!isfinite(ra_deg) || !isfinite(dec_deg)) {
        return "";
    }
    vector_from_radec(icrs, ra_deg, dec_deg);
    eraRxp((double(*)[3])map->to_b1875, icrs, old);
    vector_to_radec(&ra, &dec, old);
    for (int i = 0; i < map->polygons; i++) {
        if (contains(map, &map->polygon[i], ra, dec)) {
            return map->polygon[i].constellation;
        }
    }
    return "";
}

/* Points that an edge needs, the first corner included, the second left out. */
static int edge_points(const double *a, const double *b, double step_deg)
{
    double across = angle_wrap_180(b[0] - a[0]) * cos(a[1] * RAD_PER_DEG);
    double length = hypot(across, b[1] - a[1]);
    return length > step_deg ? (int)ceil(length / step_deg) : 1;
}

static void outline_point(double radec[2], const struct place_map *map, double ra, double dec)
{
    double old[3], icrs[3];
    vector_from_radec(old, ra, dec);
    eraTrxp((double(*)[3])map->to_b1875, old, icrs);
    vector_to_radec(&radec[0], &radec[1], icrs);
}

int place_outline(double (**radec)[2], int *count, const struct place_map *map, int polygon,
                  double step_deg, struct error *err)
{
    const struct place_polygon *shape = &map->polygon[polygon];
    step_deg = step_deg > 0.01 ? step_deg : 0.01;
    int points = 1;
    for (int i = 0; i < shape->count; i++) {
        points += edge_points(map->corner[shape->first + i], next_corner(map, shape, i), step_deg);
    }
    double(*line)[2] = malloc(sizeof *line * (size_t)points);
    if (!line) {
        return error_memory(err);
    }
    int n = 0;
    for (int i = 0; i < shape->count; i++) {
        const double *a = map->corner[shape->first + i], *b = next_corner(map, shape, i);
        int parts = edge_points(a, b, step_deg);
        for (int k = 0; k < parts; k++) {
            double t = (double)k / parts;
            outline_point(line[n++], map, a[0] + t * angle_wrap_180(b[0] - a[0]),
                          a[1] + t * (b[1] - a[1]));
        }
    }
    memcpy(line[n], line[0], sizeof *line);
    *radec = line;
    *count = points;
    return 0;
}

/* A dash and a gap along a circle of equinox B1875, degrees of its own coordinate. Counted from
 * coordinate 0, so that they don't depend on the edge's corners; whole ones go round the circle. */
static double dash_period(double dec_deg, bool along_ra, double dash_deg)
{
    double wanted = 2 * dash_deg / (along_ra ? fmax(cos(dec_deg * RAD_PER_DEG), 1e-3) : 1);
    return 360 / ceil(360 / wanted);
}

static void dash_end(double v[3], const struct place_map *map, const double corner[2],
                     bool along_ra, double coordinate)
{
    double old[3];
    vector_from_radec(old, along_ra ? coordinate : corner[0], along_ra ? corner[1] : coordinate);
    eraTrxp((double(*)[3])map->to_b1875, old, v);
}

void place_visit_dashes(const struct place_map *map, const double centre[3], double radius_deg,
                        double dash_deg,
                        void (*visit)(const double a[3], const double b[3], void *context),
                        void *context)
{
    double nearest = cos(fmin(radius_deg + dash_deg, 180) * RAD_PER_DEG);
    for (int p = 0; p < map->polygons; p++) {
        for (int i = 0; i < map->polygon[p].count; i++) {
            const double *a = map->corner[map->polygon[p].first + i];
            const double *b = next_corner(map, &map->polygon[p], i);
            double turn = angle_wrap_180(b[0] - a[0]);
            bool along_ra = fabs(turn) > same_deg;
            double from = along_ra ? a[0] : a[1], to = along_ra ? a[0] + turn : b[1];
            double low = fmin(from, to), high = fmax(from, to);
            double period = dash_period(a[1], along_ra, dash_deg);
            for (double start = floor(low / period) * period; start < high; start += period) {
                double ends[2][3], first = fmax(low, start), last = fmin(high, start + period / 2);
                dash_end(ends[0], map, a, along_ra, first);
                if (first < last && vector_dot(ends[0], centre) > nearest) {
                    dash_end(ends[1], map, a, along_ra, last);
                    visit(ends[0], ends[1], context);
                }
            }
        }
    }
}

const struct object *place_nearest_star(double *distance_deg, const struct objects *objects,
                                        double ra_deg, double dec_deg, double faintest)
{
    const struct object *nearest = NULL;
    double least = INFINITY;
    for (int i = objects->deep_sky; i < objects->count; i++) {
        const struct object *star = &objects->object[i];
        double distance = star->magnitude <= faintest
                              ? radec_angle_deg(ra_deg, dec_deg, star->ra_deg, star->dec_deg)
                              : INFINITY;
        if (distance < least) {
            least = distance;
            nearest = star;
        }
    }
    if (nearest) {
        *distance_deg = least;
    }
    return nearest;
}
