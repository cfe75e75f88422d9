/* match/shape_grid.h: the space of shapes (match/quad.h) cut into cells, which have numbers where a
 * shape can lie. */
#ifndef ALIDADE_MATCH_SHAPE_GRID_H
#define ALIDADE_MATCH_SHAPE_GRID_H

#include <stdbool.h>
#include <stdint.h>

enum {
    SHAPE_UNIT = 32000,     /* a shape number of 1 is this many units */
    SHAPE_MOST_PARTS = 125, /* of 1, on each axis */
    SHAPE_MOST_STEPS = 8    /* of a part */
};

/* Each axis is cut into parts and each part into steps, both of equal size. Axes 0 and 2 (real)
 * count parts from 0, axes 1 and 3 (imaginary) from 0 to either side. */
struct shape_grid {
    int parts, steps;
    int step_units;
    uint32_t per_step, per_part;              /* 2^32 over the units of each, rounded up */
    int half[SHAPE_MOST_PARTS + 1];           /* parts of Im on each side of 0, by the part of Re */
    uint32_t below[SHAPE_MOST_PARTS + 2];     /* sum of 2 half of lower parts */
    uint32_t start[SHAPE_MOST_PARTS / 2 + 2]; /* cells of lower parts of Re C */
    uint32_t cells;
};

/* False if parts or steps are out of range, or if steps are no whole number of units. */
bool shape_grid_make(struct shape_grid *grid, int parts, int steps);

/* Which part of an axis a shape number in units falls into; not clamped. */
int shape_grid_part(const struct shape_grid *grid, int units);

/* Number of the cell of four parts; grid->cells if they have none. */
uint32_t shape_grid_cell(const struct shape_grid *grid, const int part[4]);

/* Splits a shape in units into the parts of its cell and the steps within them. */
void shape_grid_split(int part[4], int step[4], const struct shape_grid *grid, const int units[4]);

/* A shape number, of size below 1e4, as the grid counts it: units. Written out, and without the C
 * library, since each quad that is looked at goes through it. */
static inline int shape_units(double number)
{
    static const double whole = 6755399441055744.0; /* 1.5 * 2^52: no room for fractions */
    double rounded = number * SHAPE_UNIT + whole;
    return (int)(rounded - whole);
}

#endif
