/* objects/whereabouts.h: whereabouts on the sky: constellations, their borders, the nearest star.
 */
#ifndef ALIDADE_OBJECTS_WHEREABOUTS_H
#define ALIDADE_OBJECTS_WHEREABOUTS_H

#include "base/error.h"
#include "objects/objects.h"

#include <stdbool.h>

/* A closed polygon; each edge follows a circle of right ascension or declination of B1875. */
struct place_polygon {
    char constellation[4]; /* abbreviation */
    int first, count;      /* its corners */
    bool north_pole;       /* lies inside */
};

/* The official borders (Delporte 1930, Délimitation scientifique des constellations). Starts as all
 * zeros; free with place_map_free. */
struct place_map {
    double (*corner)[2]; /* right ascension, declination; degrees, equinox B1875 */
    int corners;
    struct place_polygon *polygon;
    int polygons;
    double to_b1875[3][3]; /* turns ICRS vectors */
};

/* Reads constellation-bounds.tsv in the folder. ERROR_INPUT naming the line, also for an edge that
 * follows neither circle. */
int place_map_load(struct place_map *map, const char *folder, struct error *err);
void place_map_free(struct place_map *map);

/* Abbreviation of the constellation that an ICRS direction lies in, "" for none (only an
 * incomplete map or a direction that is not finite). A border belongs to one of its sides. */
const char *place_constellation(const struct place_map *map, double ra_deg, double dec_deg);

/* The border of one polygon as a closed line, its first point repeated at the end, with a point at
 * least every step_deg degrees of arc along it: ICRS degrees, (*radec)[i][0] right ascension
 * 0..360, [1] declination. The caller frees *radec. ERROR_MEMORY. */
int place_outline(double (**radec)[2], int *count, const struct place_map *map, int polygon,
                  double step_deg, struct error *err);

/* Calls visit for each dash of all borders that may come within radius_deg of a direction: its two
 * ends, ICRS unit vectors, at most dash_deg apart. Two constellations that share a border have the
 * same dashes there, so that drawing both does not fill the gaps. */
void place_visit_dashes(const struct place_map *map, const double centre[3], double radius_deg,
                        double dash_deg,
                        void (*visit)(const double a[3], const double b[3], void *context),
                        void *context);

/* The star nearest to an ICRS direction among those with a name that are no fainter than
 * faintest; its distance in degrees. NULL if there is none. */
const struct object *place_nearest_star(double *distance_deg, const struct objects *objects,
                                        double ra_deg, double dec_deg, double faintest);

#endif
