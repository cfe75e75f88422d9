/* Trusts nothing: each number is checked before it is used to find another. */
#include "base/units.h"
#include "match/index.h"
#include "match/index_layout.h"

#include <math.h>
#include <string.h>
#include <zlib.h>

static int check_checksums(const unsigned char *b, size_t size, struct error *err)
{
    char name[5];
    uint64_t offset, length;
    for (int i = 0; index_section(b, size, i, name, &offset, &length); i++) {
        const unsigned char *row = b + LAYOUT_TABLE + i * LAYOUT_ROW;
        uint32_t stated = (uint32_t)row[4] | (uint32_t)row[5] << 8 | (uint32_t)row[6] << 16 |
                          (uint32_t)row[7] << 24;
        uint32_t found = (uint32_t)crc32_z(0, b + offset, length);
        if (stated != found) {
            return error_set(err, ERROR_INPUT,
                             "section %s of the index is damaged: checksum %08x, expected %08x",
                             name, (unsigned)found, (unsigned)stated);
        }
    }
    return 0;
}

/* Order by magnitude, then by number, as index-build/FORMAT.md asks within a cell. */
static bool in_order(const struct index *index, uint32_t a, uint32_t b)
{
    int first = index->star[a].mag, second = index->star[b].mag;
    return first < second || (first == second && index_number(index, a) <= index_number(index, b));
}

static int check_star(const struct index *index, uint32_t star, struct error *err)
{
    double v[3];
    index_star_vector(v, &index->star[star]);
    double length = sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
    if (!(fabs(length - 1) < 1e-7)) {
        return error_set(err, ERROR_INPUT,
                         "star %u of the index: its vector has length %.9f, not 1", (unsigned)star,
                         length);
    }
    return 0;
}

/* The stars of one cell lie within reach of its centre, in order of brightness. */
static int check_cell(const struct index *index, uint32_t cell, double least_cos, struct error *err)
{
    const struct index_cell *c = &index->cell[cell];
    uint32_t first = c->first_star, end = c[1].first_star;
    if (first > end || end > index->stars) {
        return error_set(err, ERROR_INPUT,
                         "cell %u of the index: its stars %u to %u are out of order",
                         (unsigned)cell, (unsigned)first, (unsigned)end);
    }
    for (uint32_t star = first; star < end; star++) {
        double v[3];
        index_star_vector(v, &index->star[star]);
        double dot = v[0] * c->v[0] + v[1] * c->v[1] + v[2] * c->v[2];
        if (dot < least_cos || (star > first && !in_order(index, star - 1, star))) {
            return error_set(err, ERROR_INPUT,
                             "star %u of the index does not belong at its place in cell %u",
                             (unsigned)star, (unsigned)cell);
        }
    }
    return 0;
}

static int check_stars(const struct index *index, struct error *err)
{
    int code = 0;
    for (uint32_t star = 0; star < index->stars && !code; star++) {
        code = check_star(index, star, err);
    }
    if (!code && (index->cell[0].first_star != 0 ||
                  index->cell[index_first_cell(index->levels)].first_star != index->stars)) {
        code = error_set(err, ERROR_INPUT, "the cells of the index do not hold all its stars");
    }
    for (int level = 0; level < index->levels && !code; level++) {
        double least_cos = cos(index_cell_radius(level) + 1e-6);
        for (uint32_t c = index_first_cell(level); c < index_first_cell(level + 1) && !code; c++) {
            code = check_cell(index, c, least_cos, err);
        }
    }
    return code;
}

static int check_neighbours(const struct index *index, struct error *err)
{
    size_t count = (size_t)index->stars * (size_t)index->neighbours;
    for (size_t i = 0; i < count; i++) {
        uint32_t star = (uint32_t)(i / (size_t)index->neighbours), other = index->near[i];
        bool exists = other < index->stars && other != star &&
                      index->star[other].mag <= index->star[star].mag;
        if (other != INDEX_NO_STAR && !exists) {
            return error_set(err, ERROR_INPUT,
                             "neighbour %u of star %u of the index is not a brighter star",
                             (unsigned)other, (unsigned)star);
        }
    }
    return 0;
}

/* The quad made anew from its anchor and ordinals must be the one that is stored. */
static bool is_as_made(const struct index *index, const struct index_quad *quad, uint32_t cell)
{
    int ordinal[3], count = 0;
    for (int i = 0; i < 4; i++) {
        int member = quad->members >> (4 * i) & 15;
        if (member != 0) {
            if (count == 3) {
                return false;
            }
            ordinal[count++] = member;
        }
    }
    struct index_quad made;
    uint32_t made_cell;
    if (count != 3 || quad->anchor >= index->stars) {
        return false;
    }
    for (int i = 1; i < 3; i++) {
        for (int k = i; k > 0 && ordinal[k - 1] > ordinal[k]; k--) {
            int t = ordinal[k];
            ordinal[k] = ordinal[k - 1];
            ordinal[k - 1] = t;
        }
    }
    return index_make_quad(&made, &made_cell, index, quad->anchor, ordinal) && made_cell == cell &&
           memcmp(&made, quad, sizeof made) == 0;
}

static int check_quads(const struct index *index, struct error *err)
{
    if (index->bucket[0] != 0 || index->bucket[INDEX_SHAPE_CELLS] != index->quads) {
        return error_set(err, ERROR_INPUT, "the shape cells of the index do not hold all its quads");
    }
    for (uint32_t cell = 0; cell < INDEX_SHAPE_CELLS; cell++) {
        uint32_t first = index->bucket[cell], end = index->bucket[cell + 1];
        if (first > end || end > index->quads) {
            return error_set(err, ERROR_INPUT,
                             "shape cell %u of the index: its quads %u to %u are out of order",
                             (unsigned)cell, (unsigned)first, (unsigned)end);
        }
        for (uint32_t quad = first; quad < end; quad++) {
            if (!is_as_made(index, &index->quad[quad], cell)) {
                return error_set(err, ERROR_INPUT,
                                 "quad %u of the index is not what its stars make", (unsigned)quad);
            }
        }
    }
    return 0;
}

int index_check(const void *bytes, size_t size, struct error *err)
{
    struct index index;
    int code = index_decode(&index, bytes, size, err);
    code = code ? code : check_checksums(bytes, size, err);
    code = code ? code : check_stars(&index, err);
    code = code ? code : check_neighbours(&index, err);
    return code ? code : check_quads(&index, err);
}
