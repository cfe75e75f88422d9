/* objects/listing.h: everything of the tables that lies in a frame. */
#ifndef ALIDADE_OBJECTS_LISTING_H
#define ALIDADE_OBJECTS_LISTING_H

#include "objects/bodies.h"
#include "objects/field.h"

#include <stdio.h>

/* What is written of a frame's field; names and notes as in field.h. */
struct listing {
    const char *frame;         /* name of the file */
    const struct field *field; /* made by field_list */
    const struct atlas *atlas;
    int most;                      /* so many objects and so many stars at most; 0: all */
    const struct field_body *body; /* Sun, Moon and planets; not counted by most */
    int bodies;
};

/* A table for people, the most notable first. */
void listing_write_text(FILE *out, const struct listing *listing);

/* Comma-separated, RFC 4180, with a header row: frame, kind (object, star, body), id, name,
 * other_names, type, constellation, ra_deg, dec_deg, magnitude, major_arcmin, minor_arcmin,
 * angle_deg, x, y, share. */
void listing_write_csv(FILE *out, const struct listing *listing, bool header);

#endif
