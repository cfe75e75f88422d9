/* objects/outline.h: nebulae as they lie on the sky. */
#ifndef ALIDADE_OBJECTS_OUTLINE_H
#define ALIDADE_OBJECTS_OUTLINE_H

#include "base/error.h"

#include <stdbool.h>

/* On the plane that touches the sky at the object's place: tangents, east and north (standard
 * coordinates, gnomonic). */
struct outline_point {
    float xi, eta;
};

/* Closed: the last point is joined to the first. */
struct outline_line {
    struct outline_line *next;
    int level;   /* 1..3, from the faintest reach to the brightest part; 0 of a hull */
    bool extent; /* encloses the object as it is catalogued */
    int count;   /* 3 or more */
    struct outline_point point[];
};

enum { OUTLINE_HULL_MOST = 128 };

struct outline {
    struct outline *next;       /* kept so until all are freed */
    struct outline_line *hull;  /* convex, around the lines of the extent; at most
                                   OUTLINE_HULL_MOST points */
    struct outline_line *lines; /* by level */
    double area_arcmin2;        /* enclosed by the extent */
    double reach_deg;           /* of its farthest point of any level from the object's place */
    int brightest;              /* the highest level of its lines */
    double turn_deg;            /* the ellipse's turn_deg with which it lies as on the sky */
};

struct objects;

/* Gives objects their outlines from outlines.tsv in the folder, as catalogs/README.md describes
 * it; none if there is no such file. The outlines are chained at *all, for outlines_free.
 * ERROR_INPUT naming file and line; ERROR_MEMORY. */
int outlines_load(struct outline **all, struct objects *objects, const char *folder,
                  struct error *err);
void outlines_free(struct outline *all);

/* Whether a point of the plane lies within the extent: in an odd number of its lines. */
bool outline_contains(const struct outline *outline, double xi, double eta);

#endif
