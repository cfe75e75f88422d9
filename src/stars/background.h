/* stars/background.h: level and noise of the sky over a plane, on a mesh. */
#ifndef ALIDADE_STARS_BACKGROUND_H
#define ALIDADE_STARS_BACKGROUND_H

#include "base/error.h"

/* Starts as all zeros; free with background_free. */
struct background {
    int columns, rows;
    double cell;  /* side of a mesh cell, pixels */
    float *level; /* rows * columns, at the cells' centres; units of the plane's values */
    float *noise; /* rms of a pixel about the level, the same */
    double typical_level, typical_noise; /* medians over the mesh */
};

/* What other meshes are measured on after a first one. Starts as all zeros; free with
 * background_rest_free. */
struct background_rest {
    float *value;            /* of one pixel of each step x step, less a level */
    int columns, rows, step; /* pixels of the plane per value */
    struct background level; /* that was taken off, without a noise */
};

/* Clipped mode and rms in cells of mesh x mesh pixels (stars/sky_cell.h), median-filtered over 3 x
 * 3 cells. Only one pixel of each step x step is looked at. rest: NULL, or empty to measure once
 * more what the level of the first look leaves, lest a slope within a cell count as noise. Values
 * that are not finite don't count; a cell that is mostly such is as one beside it. Same bits on any
 * number of threads. ERROR_MEMORY only. */
int background_measure(struct background *b, struct background_rest *rest, const float *value,
                       int width, int height, int mesh, int step, int threads, struct error *err);

/* On another mesh. known: what was measured first. A finer mesh is measured on the rest, a coarser
 * one has medians of the known one about its nodes. ERROR_MEMORY only. */
int background_again(struct background *b, const struct background_rest *rest,
                     const struct background *known, int mesh, int threads, struct error *err);
void background_rest_free(struct background_rest *rest);

/* At pixel (x, y) of the plane, linear between the cells' centres, constant beyond them. */
double background_level(const struct background *b, double x, double y);
double background_noise(const struct background *b, double x, double y);

/* The same for any values at the mesh's nodes; or of several at one place. */
double background_between(const struct background *b, const float *node, double x, double y);
struct background_place {
    int upper, lower, next; /* nodes left of it above and below; how far the ones right of it are */
    double across, down;    /* of the way to those, 0..1 */
};
struct background_place background_place(const struct background *b, double x, double y);
double background_at(const struct background_place *place, const float *node);

/* Row by row: pieces 0..columns of a row are straight, each up to background_piece_end, the last up
 * to the width. Each begins at x where the one before ended. */
struct background_row {
    const struct background *b; /* borrowed */
    int upper, lower;           /* first nodes of the rows above and below */
    float part;                 /* of the way down */
};
struct straight {
    float first, step; /* value at the beginning, and from pixel to pixel */
};
struct background_row background_row(const struct background *b, double y);
int background_piece_end(const struct background *b, int piece, int width);
struct straight background_piece(const struct background_row *row, const float *node, int piece,
                                 int x);

void background_free(struct background *b);

#endif
