#include "match/index.h"
#include "match/index_layout.h"
#include "match/quad.h"

bool index_shape_quad(struct index_quad *quad, const uint32_t star[4], double direction[4][3])
{
    double shape[4];
    int order[4];
    if (!quad_sky_shape(shape, order, &quad->diameter, direction)) {
        return false;
    }
    for (int i = 0; i < 4; i++) {
        quad->star[i] = star[order[i]];
        quad->shape[i] = shape_units(shape[i]);
    }
    return true;
}

bool index_make_quad(struct index_quad *quad, const struct index *index, const uint32_t star[4])
{
    double direction[4][3];
    for (int i = 0; i < 4; i++) {
        if (star[i] >= index->stars) {
            return false;
        }
        index_star_vector(direction[i], &index->star[star[i]]);
    }
    return index_shape_quad(quad, star, direction);
}

uint32_t index_neighbour(const struct index *index, uint32_t star, int n)
{
    uint64_t number = (uint64_t)star * (uint64_t)index->neighbours + (uint64_t)(n - 1);
    uint64_t other =
        packed_get(index->near, number * (uint64_t)index->near_width, index->near_width);
    return other < index->stars ? (uint32_t)other : INDEX_NO_STAR;
}

void index_set_neighbours(struct index *index, int neighbours)
{
    index->neighbours = neighbours;
    index->threes = 0;
    for (int k = 3; k <= neighbours; k++) {
        for (int j = 2; j < k; j++) {
            for (int i = 1; i < j; i++) {
                unsigned char *three = index->three[index->threes++];
                three[0] = (unsigned char)i;
                three[1] = (unsigned char)j;
                three[2] = (unsigned char)k;
            }
        }
    }
}

uint32_t index_three_number(const int ordinal[3])
{
    int i = ordinal[0] - 1, j = ordinal[1] - 1, k = ordinal[2] - 1;
    return (uint32_t)(k * (k - 1) * (k - 2) / 6 + j * (j - 1) / 2 + i);
}

bool index_numbered_quad(struct index_quad *quad, uint32_t *anchor, const struct index *index,
                         uint64_t number)
{
    uint32_t star[4];
    /* Processors divide short numbers several times faster. */
    uint64_t faintest =
        number <= UINT32_MAX ? (uint32_t)number / index->threes : number / index->threes;
    if (faintest >= index->stars) {
        return false;
    }
    *anchor = star[0] = (uint32_t)faintest;
    const unsigned char *three = index->three[number - faintest * index->threes];
    for (int i = 0; i < 3; i++) {
        star[i + 1] = index_neighbour(index, star[0], three[i]);
    }
    return index_make_quad(quad, index, star);
}

int index_pair_width(int steps)
{
    return packed_width((uint64_t)steps * (uint64_t)steps - 1);
}

/* The largest with count * 2^width at most as much as there are numbers: with it all bits are the
 * fewest, and the upper parts take less than three for each. */
int index_low_width(const struct index *index, uint32_t count)
{
    const uint64_t numbers = (uint64_t)index->stars * index->threes;
    int width = packed_width(numbers) - packed_width(count);
    width -= width > 0 && (uint64_t)count << width > numbers;
    return width > 0 ? width : 0;
}

bool index_block_open(struct index_block *block, const struct index *index, uint32_t cell)
{
    uint64_t place = index_block_start(index, cell), end = index_block_start(index, cell + 1);
    if (place >= end || end > index->quad_bytes) {
        return false;
    }
    block->count = index->quad[place++];
    if (block->count == 255) {
        block->count = (uint32_t)packed_get(index->quad, 8 * place, 32);
        place += 4;
    }
    block->pair_width = index_pair_width(index->grid.steps);
    block->low_width = index_low_width(index, block->count);
    block->width = 2 * block->pair_width + block->low_width;
    uint64_t records = (uint64_t)block->count * (uint64_t)block->width;
    if (block->count == 0 || place > end || records > 8 * (end - place)) {
        return false;
    }
    block->record = index->quad + place;
    block->upper = block->record + records / 8;
    block->upper_skip = (uint32_t)(records & 7);
    uint64_t bits = 8 * (end - place) - records, most = 3 * (uint64_t)block->count + 8;
    block->upper_bits = (uint32_t)(bits < most ? bits : most);
    return true;
}

/* Place of the set bit number i of the block's upper parts; as many as there are, if fewer are set.
 */
static uint32_t find_set_bit(const struct index_block *block, uint32_t i)
{
    enum { AT_ONCE = 56 };
    uint32_t left = i;
    for (uint32_t place = 0; place < block->upper_bits; place += AT_ONCE) {
        uint32_t rest = block->upper_bits - place;
        uint64_t bits = packed_get(block->upper, (uint64_t)block->upper_skip + place,
                                   rest < AT_ONCE ? (int)rest : AT_ONCE);
        uint32_t here = (uint32_t)__builtin_popcountll(bits);
        if (left < here) {
            for (; left > 0; left--) {
                bits &= bits - 1;
            }
            return place + (uint32_t)__builtin_ctzll(bits);
        }
        left -= here;
    }
    return block->upper_bits;
}

uint64_t index_block_number(const struct index_block *block, uint32_t i)
{
    uint64_t low = packed_get(
        block->record, (uint64_t)i * (uint64_t)block->width + 2 * (uint64_t)block->pair_width,
        block->low_width);
    uint64_t upper = find_set_bit(block, i) - i;
    return upper << block->low_width | low;
}
