/* Trusts nothing: each number is checked before it is used to find another. */
#include "match/index.h"
#include "match/index_layout.h"
#include "sky/vector.h"

#include <math.h>
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

/* The stars of one cell lie within reach of its centre, in order of brightness. */
static int check_cell(const struct index *index, uint32_t cell, double least_cos, struct error *err)
{
    const struct index_cell *c = &index->cell[cell];
    const double place[2] = {c->centre[0] / 32767.0, c->centre[1] / 32767.0};
    uint32_t first = c->first_star, end = c[1].first_star;
    double centre[3], v[3];
    if (first > end || end > index->stars) {
        return error_set(err, ERROR_INPUT,
                         "cell %u of the index: its stars %u to %u are out of order",
                         (unsigned)cell, (unsigned)first, (unsigned)end);
    }
    octahedron_unfold(centre, place);
    for (uint32_t star = first; star < end; star++) {
        index_star_vector(v, &index->star[star]);
        if (vector_dot(v, centre) < least_cos ||
            (star > first && !in_order(index, star - 1, star))) {
            return error_set(err, ERROR_INPUT,
                             "star %u of the index does not belong at its place in cell %u",
                             (unsigned)star, (unsigned)cell);
        }
    }
    return 0;
}

/* The quarters of a level's cells are all cells of the next, one after the other. */
static int check_parts(const struct index *index, int level, struct error *err)
{
    const uint32_t lowest = index->level[level + 1];
    const uint32_t highest = level + 1 < index->levels ? index->level[level + 2] : lowest;
    for (uint32_t c = index->level[level]; c < lowest && level + 1 < index->levels; c++) {
        uint32_t first = index->cell[c].first_part;
        uint32_t end = c + 1 < lowest ? index->cell[c + 1].first_part : highest;
        if ((c == index->level[level] && first != lowest) || first > end || end > highest ||
            end - first > 4) {
            return error_set(err, ERROR_INPUT,
                             "cell %u of the index: its parts %u to %u are out of order",
                             (unsigned)c, (unsigned)first, (unsigned)end);
        }
    }
    return 0;
}

static int check_stars(const struct index *index, struct error *err)
{
    int code = 0;
    if (index->cell[0].first_star != 0 ||
        index->cell[index->level[index->levels]].first_star != index->stars) {
        code = error_set(err, ERROR_INPUT, "the cells of the index do not hold all its stars");
    }
    for (int level = 0; level < index->levels && !code; level++) {
        double least_cos = cos(index_cell_radius(level) + INDEX_CENTRE_ERROR);
        for (uint32_t c = index->level[level]; c < index->level[level + 1] && !code; c++) {
            code = check_cell(index, c, least_cos, err);
        }
        code = code ? code : check_parts(index, level, err);
    }
    return code;
}

static int check_neighbours(const struct index *index, struct error *err)
{
    for (uint32_t star = 0; star < index->stars; star++) {
        for (int n = 1; n <= index->neighbours; n++) {
            uint32_t other = index_neighbour(index, star, n);
            bool exists = other < index->stars && other != star &&
                          index->star[other].mag <= index->star[star].mag;
            if (other != INDEX_NO_STAR && !exists) {
                return error_set(err, ERROR_INPUT,
                                 "neighbour %u of star %u of the index is not a brighter star",
                                 (unsigned)other, (unsigned)star);
            }
        }
    }
    return 0;
}

/* The quad made anew from its number must belong where it stands. */
static bool belongs(const struct index *index, const struct index_block *block, uint32_t i,
                    uint32_t cell)
{
    struct index_quad quad;
    uint32_t anchor, pair[2];
    int part[4], step[4], steps = index->grid.steps;
    if (!index_numbered_quad(&quad, &anchor, index, index_block_number(block, i))) {
        return false;
    }
    shape_grid_split(part, step, &index->grid, quad.shape);
    index_block_pairs(pair, block, i);
    return shape_grid_cell(&index->grid, part) == cell &&
           pair[0] == (uint32_t)(step[0] * steps + step[1]) &&
           pair[1] == (uint32_t)(step[2] * steps + step[3]);
}

static int check_block(uint64_t *quads, const struct index *index, uint32_t cell, struct error *err)
{
    struct index_block block;
    uint64_t before = 0;
    if (!index_block_open(&block, index, cell)) {
        return error_set(err, ERROR_INPUT, "the quads of shape cell %u of the index are damaged",
                         (unsigned)cell);
    }
    for (uint32_t i = 0; i < block.count; i++) {
        uint64_t number = index_block_number(&block, i);
        if ((i > 0 && number <= before) || !belongs(index, &block, i, cell)) {
            return error_set(err, ERROR_INPUT,
                             "quad %u of shape cell %u of the index is not what its stars make",
                             (unsigned)i, (unsigned)cell);
        }
        before = number;
    }
    *quads += block.count;
    return 0;
}

static int check_quads(const struct index *index, struct error *err)
{
    uint64_t quads = 0;
    int code = 0;
    for (uint32_t cell = 0; cell < index->grid.cells && !code; cell++) {
        uint64_t first = index_block_start(index, cell), end = index_block_start(index, cell + 1);
        if (first > end || end > index->quad_bytes) {
            return error_set(err, ERROR_INPUT,
                             "shape cell %u of the index: its bytes %llu to %llu are out of order",
                             (unsigned)cell, (unsigned long long)first, (unsigned long long)end);
        }
        code = first < end ? check_block(&quads, index, cell, err) : 0;
    }
    if (!code && (quads != index->quads || index_block_start(index, 0) != 0 ||
                  index_block_start(index, index->grid.cells) != index->quad_bytes)) {
        code =
            error_set(err, ERROR_INPUT, "the shape cells of the index do not hold all its quads");
    }
    return code;
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
