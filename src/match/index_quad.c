#include "base/units.h"
#include "match/index.h"
#include "match/quad.h"

#include <math.h>

static const double widest = 30 * RAD_PER_DEG;
static const double closest = 20 / ARCSEC_PER_RAD;

static bool too_close(double direction[4][3])
{
    for (int i = 0; i < 4; i++) {
        for (int j = 0; j < i; j++) {
            double square = 0;
            for (int axis = 0; axis < 3; axis++) {
                double d = direction[i][axis] - direction[j][axis];
                square += d * d;
            }
            if (square < closest * closest) {
                return true;
            }
        }
    }
    return false;
}

static uint32_t star_by_ordinal(const struct index *index, uint32_t anchor, int ordinal)
{
    if (ordinal == 0) {
        return anchor;
    }
    if (ordinal > index->neighbours) {
        return INDEX_NO_STAR;
    }
    return index->near[(size_t)anchor * (size_t)index->neighbours + (size_t)ordinal - 1];
}

/* Splits a shape into its cell and the steps within it. */
static uint32_t store_shape(uint8_t step[4], const double shape[4])
{
    int part[4];
    for (int axis = 0; axis < 4; axis++) {
        int units = (int)lrint(shape[axis] * INDEX_SHAPE_UNIT);
        part[axis] = index_shape_part(units, axis);
        step[axis] = (uint8_t)((units - index_shape_start(part[axis], axis)) / INDEX_SHAPE_STEP);
    }
    return index_shape_cell(part);
}

uint16_t index_store_diameter(double radians)
{
    return (uint16_t)lrint(fmax(0, fmin(UINT16_MAX, 24000 + 2000 * log(radians))));
}

bool index_make_quad(struct index_quad *quad, uint32_t *cell, const struct index *index,
                     uint32_t anchor, const int ordinal[3])
{
    double direction[4][3], plane[4][2], shape[4], diameter;
    int order[4];
    for (int i = 0; i < 4; i++) {
        uint32_t star = star_by_ordinal(index, anchor, i ? ordinal[i - 1] : 0);
        if (star >= index->stars) {
            return false;
        }
        index_star_vector(direction[i], &index->star[star]);
    }
    if (too_close(direction) || !quad_sky_plane(plane, direction) ||
        !quad_shape(shape, order, &diameter, plane) || diameter > widest) {
        return false;
    }
    *quad = (struct index_quad){.anchor = anchor};
    for (int i = 0; i < 4; i++) {
        int member = order[i] ? ordinal[order[i] - 1] : 0;
        quad->members = (uint16_t)(quad->members | member << (4 * i));
    }
    quad->diameter = index_store_diameter(diameter);
    *cell = store_shape(quad->shape, shape);
    return true;
}

bool index_quad_stars(uint32_t star[4], const struct index *index, const struct index_quad *quad)
{
    if (quad->anchor >= index->stars) {
        return false;
    }
    for (int i = 0; i < 4; i++) {
        star[i] = star_by_ordinal(index, quad->anchor, quad->members >> (4 * i) & 15);
        if (star[i] >= index->stars) {
            return false;
        }
    }
    return true;
}
