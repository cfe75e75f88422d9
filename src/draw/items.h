/* draw/items.h: what of a frame is marked and named, and how it is called. */
#ifndef ALIDADE_DRAW_ITEMS_H
#define ALIDADE_DRAW_ITEMS_H

#include "draw/canvas.h"
#include "draw/labels.h"
#include "draw/marks.h"
#include "draw/overlay.h"
#include "draw/pen.h"

#include <stdbool.h>

enum item_kind {
    ITEM_OBJECT, /* deep-sky object: outline or mark */
    ITEM_STAR,   /* star between two strokes */
    ITEM_LETTER, /* star with its letter alone, no mark */
    ITEM_BODY,   /* Sun, Moon or planet */
    ITEM_REGION  /* constellation */
};

struct item {
    enum item_kind kind;
    double weight;                    /* the most important have the most */
    double x, y;                      /* px; the middle of an outline */
    const struct field_object *found; /* objects and stars; borrowed */
    bool outlined;
    struct sky_ellipse outline; /* a circle of the same area if it is not known how it lies */
    double radius;              /* of the mark; of an outline, its farthest point; px */
    double minor, turn;         /* of an outline: its nearest point, px, and the direction of the
                                   farthest, radians from right to down; else 0 */
    bool upright;               /* the strokes beside a star, which would run into another's */
    bool phased;                /* the Moon, */
    struct mark_light light;    /* and how it is lit */
    char first[96], second[96]; /* lines of the name; second may be "" */
};

enum { ITEMS_MOST = 160 };

/* Starts as all zeros; holds no memory of its own. */
struct item_list {
    struct item item[ITEMS_MOST];
    int count;
};

/* Chooses from what the request's layers allow, the most important first. */
void items_choose(struct item_list *list, struct canvas *canvas,
                  const struct overlay_request *request);

/* What the label engine needs to know of an item. */
void item_label(struct label *label, const struct item *item, struct canvas *canvas);

/* The lines of its name as they are written. */
struct pen_text item_first(const struct item *item);
struct pen_text item_second(const struct item *item);
enum ink item_ink(const struct item *item);

/* Draws what marks the thing itself. */
void item_draw_mark(const struct item *item, struct canvas *canvas, const struct wcs *wcs);

#endif
