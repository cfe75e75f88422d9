/* objects/field.h: what a solved frame shows, the most notable first. */
#ifndef ALIDADE_OBJECTS_FIELD_H
#define ALIDADE_OBJECTS_FIELD_H

#include "base/error.h"
#include "match/trust.h"
#include "objects/constellations.h"
#include "objects/ellipse.h"
#include "objects/figures.h"
#include "objects/objects.h"
#include "objects/whereabouts.h"
#include "sky/wcs.h"

#include <stdbool.h>
#include <stddef.h>

/* The bundled tables of what is in the sky. Starts as all zeros; free with atlas_free. */
struct atlas {
    struct objects objects;
    struct constellations constellations;
    struct figures figures;
    struct place_map map;
};

/* Reads all tables in the folder. ERROR_INPUT, ERROR_MEMORY; atlas is empty then. */
int atlas_load(struct atlas *atlas, const char *folder, struct error *err);
void atlas_free(struct atlas *atlas);

struct field_object {
    const struct object *object; /* borrowed */
    struct sky_ellipse shape;
    double x, y;     /* px of its centre; may lie outside the picture */
    double major_px; /* semi axes; 0 if the size is unknown */
    double minor_px;
    double share;  /* of its area that lies in the frame, above 0 */
    double weight; /* how notable it is here; the unit has no meaning */
    bool obscure;  /* few people know its number, and it has no English name */
};

/* Starts as all zeros; free with field_free. */
struct field {
    struct field_object *object; /* deep-sky objects, most notable first */
    int objects;
    struct field_object *star; /* named stars, brightest first */
    int stars;
};

/* Finds the objects that lie at least partly in the frame and are notable at its scale, and the
 * named stars in it. Rows of catalogues that number every patch of nebula are only kept where
 * there is little else. objects must outlive the field. ERROR_MEMORY only. */
int field_find(struct field *field, const struct wcs *wcs, const struct objects *objects,
               struct error *err);

/* The same with everything of the tables that lies at least partly in the frame. ERROR_MEMORY only.
 */
int field_list(struct field *field, const struct wcs *wcs, const struct objects *objects,
               struct error *err);

/* Above any that field_find gives. */
#define FIELD_FEATURED_WEIGHT 99

/* Makes an object, or a star, the most notable one of a field made by field_find or field_list.
 * Does nothing if it has no place in the frame. */
void field_feature(struct field *field, const struct object *object, const struct wcs *wcs);

/* Leaves out what would be named where the solution is not proven: stars there, and objects whose
 * middle, if it is in the picture, or else all of which, lies there. What is left has the share
 * that lies where it is proven. */
void field_keep_proven(struct field *field, const struct wcs *wcs, const struct trust *trust);

void field_free(struct field *field);

/* "in Cygnus, 3.2° from Deneb", for the middle of the picture. UTF-8, cut to size. */
void field_write_place(char *out, size_t size, const struct wcs *wcs, const struct atlas *atlas);

/* "3.2° from Deneb", for the middle of the picture; "" without a table of stars. */
void field_write_nearest(char *out, size_t size, const struct wcs *wcs, const struct atlas *atlas);

/* What a picture is of: "M 31 (Andromeda Galaxy), M 32 and M 110, in Andromeda", at most so many
 * names, what stands in the middle before what is as notable at the edge; bright stars, "Polaris,
 * in Ursa Minor", where there are few objects; else as field_write_place. field was found in wcs.
 * Cut to size between two names. */
void field_write_subject(char *out, size_t size, const struct field *field, const struct wcs *wcs,
                         const struct atlas *atlas, int most);

/* Which way north is in the middle of the picture: "↗ 38° right of up", "↓ 12.1° left of down"; "↑
 * straight up" within half a tenth of a degree. UTF-8, cut to size. */
void field_write_north(char *out, size_t size, const struct wcs *wcs);

#endif
