#include "match/shape_grid.h"

#include <math.h>
#include <string.h>

/* C and D are no farther from A and B than these are from each other, which leaves a lens. Rounding
 * may take a shape two units out of it. */
static int half_of_part(int part, int parts)
{
    double from = (double)part / parts, to = (part + 1.0) / parts;
    double nearest = from > 0.5 ? from : to < 0.5 ? to : 0.5;
    double farther = fmax(nearest, 1 - nearest);
    double height = sqrt(fmax(0, 1 - farther * farther)) + 2.0 / SHAPE_UNIT;
    return (int)ceil(height * parts);
}

bool shape_grid_make(struct shape_grid *grid, int parts, int steps)
{
    if (parts < 2 || parts > SHAPE_MOST_PARTS || steps < 1 || steps > SHAPE_MOST_STEPS ||
        SHAPE_UNIT % (parts * steps) != 0) {
        return false;
    }
    memset(grid, 0, sizeof *grid);
    grid->parts = parts;
    grid->steps = steps;
    grid->step_units = SHAPE_UNIT / (parts * steps);
    grid->per_step = (uint32_t)(UINT32_MAX / (uint32_t)grid->step_units + 1);
    grid->per_part = (uint32_t)(UINT32_MAX / (uint32_t)(grid->step_units * steps) + 1);
    for (int p = 0; p <= parts; p++) {
        grid->half[p] = half_of_part(p, parts);
        grid->below[p + 1] = grid->below[p] + 2 * (uint32_t)grid->half[p];
    }
    for (int c = 0; c <= parts / 2; c++) {
        uint32_t row = grid->below[parts - c + 1] - grid->below[c];
        grid->start[c + 1] = grid->start[c] + 2 * (uint32_t)grid->half[c] * row;
    }
    grid->cells = grid->start[parts / 2 + 1];
    return true;
}

static int floor_divide(int a, int b)
{
    return a >= 0 ? a / b : -((-a + b - 1) / b);
}

int shape_grid_part(const struct shape_grid *grid, int units)
{
    return floor_divide(units, grid->step_units * grid->steps);
}

/* As floor_divide, without a division, which takes most of the time of whoever splits a shape, for
 * units of -FAR to less than FAR: per is 2^32 / b, rounded up by less than b / 2^32 of itself, so
 * that the quotient is exact (Granlund & Montgomery 1994, ACM SIGPLAN 29, 61) as long as
 * 2 FAR b < 2^32. */
enum { FAR = 2 * SHAPE_UNIT };
static int quotient(int units, uint32_t per, int of_far)
{
    return (int)((uint64_t)(uint32_t)(units + FAR) * per >> 32) - of_far;
}

static bool within(const struct shape_grid *grid, int re, int im)
{
    return im >= -grid->half[re] && im < grid->half[re];
}

uint32_t shape_grid_cell(const struct shape_grid *grid, const int part[4])
{
    int c = part[0], d = part[2];
    if (c < 0 || c > grid->parts / 2 || d < c || d > grid->parts - c || !within(grid, c, part[1]) ||
        !within(grid, d, part[3])) {
        return grid->cells;
    }
    uint32_t row = grid->below[grid->parts - c + 1] - grid->below[c];
    return grid->start[c] + (uint32_t)(part[1] + grid->half[c]) * row + grid->below[d] -
           grid->below[c] + (uint32_t)(part[3] + grid->half[d]);
}

void shape_grid_split(int part[4], int step[4], const struct shape_grid *grid, const int units[4])
{
    const int parts = 2 * grid->parts, steps = parts * grid->steps;
    for (int axis = 0; axis < 4; axis++) {
        int u = units[axis];
        bool near = u >= -FAR && u < FAR;
        part[axis] = near ? quotient(u, grid->per_part, parts) : shape_grid_part(grid, u);
        step[axis] =
            (near ? quotient(u, grid->per_step, steps) : floor_divide(u, grid->step_units)) -
            part[axis] * grid->steps;
    }
}
