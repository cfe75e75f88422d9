/* draw/labels.h: where to write names so that none hides another. */
#ifndef ALIDADE_DRAW_LABELS_H
#define ALIDADE_DRAW_LABELS_H

#include "draw/busy.h"
#include "draw/label_box.h"

#include <stdbool.h>

enum { LABEL_FORMS = 2 };

struct label {
    /* Given: what is named, as a circle, or as an ellipse of that semi-major axis. */
    double x, y, radius;
    double minor; /* semi-minor axis; 0: it is a circle */
    double turn;  /* of the major axis, radians from right to down */
    bool hollow;  /* the name may stand inside the circle too, at its rim */
    bool close;   /* the name stands right beside it or not at all */
    bool region;  /* names a region around (x, y), not a thing: it may stand anywhere near */
    /* Sizes of the full form of the name and of a shorter one, which may be 0 wide if there is
     * none. */
    double width[LABEL_FORMS], height[LABEL_FORMS];

    /* Found. */
    bool placed;
    int form;
    struct label_box box;
    bool leader; /* the name stands off: a line from (from_x, from_y) at the box leads to
                    (to_x, to_y) at the circle */
    double from_x, from_y, to_x, to_y;
};

struct label_space {
    double width, height;          /* of the picture */
    double margin;                 /* kept free along its edges */
    double gap;                    /* between a circle and its name, and between names */
    const struct label_box *taken; /* where other things are drawn */
    int taken_count;
    const struct busy_map *busy;  /* what the picture shows; NULL: nothing to be seen */
    const struct busy_map *lines; /* lines that are drawn already; NULL: none */
};

/* Whether a box lies in the picture, within its margin, and off what is taken. */
bool label_box_is_free(const struct label_box *box, const struct label_space *space);

/* Places labels, the most important first: a later one gives way, to a place farther off or its
 * short form, or altogether. No box that is placed leaves the picture or touches another box,
 * a taken one, a leader or the circle of a placed label that is not hollow. Names keep off the
 * heart of larger things, and off lines and what the picture shows, where they can. Depends on
 * nothing but its arguments. */
void labels_place(struct label *labels, int count, const struct label_space *space);

#endif
