/* Decoding is kept apart from checking (index_check.c): the first must cost nothing, the second
 * must trust nothing. */
#include "match/index.h"

#include "match/index_layout.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

static uint32_t read_u32(const unsigned char *p)
{
    return (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}

static uint64_t read_u64(const unsigned char *p)
{
    return (uint64_t)read_u32(p) | (uint64_t)read_u32(p + 4) << 32;
}

static int check_preamble(const unsigned char *b, size_t size, struct error *err)
{
    if (size < LAYOUT_HEADER_END) {
        return error_set(err, ERROR_INPUT,
                         "not an index: %zu bytes are too few to hold even its header", size);
    }
    if (memcmp(b, LAYOUT_MAGIC, 8) != 0) {
        return error_set(err, ERROR_INPUT, "not an index file (wrong signature)");
    }
    uint32_t order = read_u32(b + LAYOUT_ORDER);
    if (order == 0x04030201) {
        return error_set(err, ERROR_INPUT,
                         "the index has the other byte order (big-endian); build it again here");
    }
    if (order != 0x01020304) {
        return error_set(err, ERROR_INPUT, "the index has an unknown byte order mark 0x%08x",
                         (unsigned)order);
    }
    uint32_t version = read_u32(b + LAYOUT_VERSION);
    if (version != INDEX_VERSION) {
        return error_set(err, ERROR_INPUT,
                         "the index has version %u, expected %d; alidade-index build makes it anew",
                         (unsigned)version, INDEX_VERSION);
    }
    uint64_t stated = read_u64(b + LAYOUT_SIZE);
    if (stated != size) {
        return error_set(
            err, ERROR_INPUT,
            "the index says it has %llu bytes, but there are %zu: cut short or damaged",
            (unsigned long long)stated, size);
    }
    if (read_u32(b + LAYOUT_SECTIONS) != LAYOUT_SECTION_COUNT ||
        read_u32(b + LAYOUT_CHECKSUM) != index_layout_checksum(b)) {
        return error_set(err, ERROR_INPUT, "the header of the index is damaged");
    }
    return 0;
}

static void read_facts(struct index *index, const unsigned char *b)
{
    struct index_facts *facts = &index->facts;
    memcpy(facts->name, b + LAYOUT_NAME, sizeof facts->name - 1);
    memcpy(facts->source, b + LAYOUT_SOURCE, sizeof facts->source - 1);
    uint64_t epoch = read_u64(b + LAYOUT_EPOCH);
    memcpy(&facts->epoch_year, &epoch, sizeof epoch);
    uint32_t mags = read_u32(b + LAYOUT_MAGNITUDES);
    facts->brightest = (int16_t)(mags & 0xffff) / 1000.0;
    facts->faintest = (int16_t)(mags >> 16) / 1000.0;
    index->neighbours = (int)(read_u32(b + LAYOUT_NEIGHBOURS) & 0xffff);
    index->stars = read_u32(b + LAYOUT_STARS);
    index->quads = read_u32(b + LAYOUT_QUADS);
    index->levels = (int)(read_u32(b + LAYOUT_LEVELS) & 0xff);
    index->id_width = (int)(read_u32(b + LAYOUT_ID_WIDTH) & 0xff);
}

/* What a section must be. */
struct expected_section {
    uint64_t records, size;
    bool any_size; /* of its own, at least this one */
};

/* Sets *view to section number i, or says what is wrong with its table row. */
static int find_section(const void **view, const unsigned char *b, size_t size, int i,
                        const struct expected_section *expected, struct error *err)
{
    const unsigned char *row = b + LAYOUT_TABLE + i * LAYOUT_ROW;
    uint64_t offset = read_u64(row + 8), length = read_u64(row + 16), count = read_u64(row + 24);
    bool fits = expected->any_size ? length >= expected->size : length == expected->size;
    if (memcmp(row, layout_section_name[i], 4) != 0 || count != expected->records || !fits ||
        offset % 64 != 0 || offset < LAYOUT_HEADER_END || offset > size || length > size - offset) {
        return error_set(err, ERROR_INPUT,
                         "section %s of the index does not fit: offset %llu, %llu bytes, %llu "
                         "records where %llu of %llu bytes are expected",
                         layout_section_name[i], (unsigned long long)offset,
                         (unsigned long long)length, (unsigned long long)count,
                         (unsigned long long)expected->records, (unsigned long long)expected->size);
    }
    *view = b + offset;
    return 0;
}

int index_near_width(uint32_t stars)
{
    return packed_width(stars);
}

static int refuse_counts(const struct index *index, struct error *err)
{
    return error_set(err, ERROR_INPUT,
                     "the index claims %u stars, %u quads, %d levels, %d neighbours, which cannot "
                     "be",
                     (unsigned)index->stars, (unsigned)index->quads, index->levels,
                     index->neighbours);
}

/* The levels follow each other. */
static int read_levels(struct index *index, const unsigned char *b, struct error *err)
{
    for (int level = 0; level <= index->levels; level++) {
        index->level[level] = read_u32(b + LAYOUT_LEVEL + 4 * level);
        bool rises =
            level == 0 ? index->level[0] == 0 : index->level[level] > index->level[level - 1];
        if (!rises || index->level[level] > INT32_MAX) {
            return error_set(err, ERROR_INPUT, "level %d of the index is out of order", level);
        }
    }
    return 0;
}

static int read_counts(struct index *index, const unsigned char *b, struct error *err)
{
    read_facts(index, b);
    if (index->stars == 0 || index->stars > INT32_MAX || index->quads > INT32_MAX ||
        index->levels < 1 || index->levels > INDEX_MAX_LEVELS || index->neighbours < 3 ||
        index->neighbours > INDEX_MAX_NEIGHBOURS || index->id_width > 64) {
        return refuse_counts(index, err);
    }
    index->near_width = index_near_width(index->stars);
    index_set_neighbours(index, index->neighbours);
    uint32_t parts = read_u32(b + LAYOUT_PARTS), steps = read_u32(b + LAYOUT_STEPS);
    if (parts > SHAPE_MOST_PARTS || steps > SHAPE_MOST_STEPS ||
        !shape_grid_make(&index->grid, (int)parts, (int)steps)) {
        return error_set(err, ERROR_INPUT,
                         "the index cuts shapes into %u parts of %u steps, which cannot be",
                         (unsigned)parts, (unsigned)steps);
    }
    return read_levels(index, b, err);
}

int index_decode(struct index *index, const void *bytes, size_t size, struct error *err)
{
    const unsigned char *b = bytes;
    struct index made = {0};
    int code = check_preamble(b, size, err);
    code = code ? code : read_counts(&made, b, err);
    if (code) {
        return code;
    }
    /* What is wrong with it, find_section says. */
    uint64_t length = read_u64(b + LAYOUT_TABLE + LAYOUT_QUAD * LAYOUT_ROW + 16);
    made.quad_bytes = length >= PACKED_SLACK && length <= size ? length - PACKED_SLACK : 0;
    made.block_width = packed_width(made.quad_bytes);
    const uint64_t cells = (uint64_t)made.level[made.levels] + 1, stars = made.stars;
    const uint64_t near = stars * (uint64_t)made.neighbours, blocks = made.grid.cells + UINT64_C(1);
    const struct expected_section expected[LAYOUT_SECTION_COUNT] = {
        {stars, packed_size(stars, made.id_width), false},
        {stars, stars * sizeof *made.star, false},
        {cells, cells * sizeof *made.cell, false},
        {near, packed_size(near, made.near_width), false},
        {made.quads, PACKED_SLACK, true},
        {blocks, packed_size(blocks, made.block_width), false},
    };
    const void *view[LAYOUT_SECTION_COUNT];
    for (int i = 0; i < LAYOUT_SECTION_COUNT; i++) {
        code = find_section(&view[i], b, size, i, &expected[i], err);
        if (code) {
            return code;
        }
    }
    made.id = view[LAYOUT_IDNO];
    made.star = view[LAYOUT_STAR];
    made.cell = view[LAYOUT_CELL];
    made.near = view[LAYOUT_NEAR];
    made.quad = view[LAYOUT_QUAD];
    made.block = view[LAYOUT_CODE];
    made.size = size;
    *index = made;
    return 0;
}

int index_open(struct index_file *file, const char *name, struct error *err)
{
    struct index_file made = {0};
    struct error cause = {0};
    int code = file_map_open(&made.map, name, err);
    if (code) {
        return code;
    }
    code = index_decode(&made.index, made.map.bytes, made.map.size, &cause);
    if (code) {
        file_map_close(&made.map);
        return error_set(err, code, "%s: %s", name, cause.text);
    }
    *file = made;
    return 0;
}

void index_close(struct index_file *file)
{
    file_map_close(&file->map);
    *file = (struct index_file){0};
}

bool index_section(const void *bytes, size_t size, int i, char name[5], uint64_t *offset,
                   uint64_t *length)
{
    if (size < LAYOUT_HEADER_END || i < 0 || i >= LAYOUT_SECTION_COUNT) {
        return false;
    }
    const unsigned char *row = (const unsigned char *)bytes + LAYOUT_TABLE + i * LAYOUT_ROW;
    memcpy(name, row, 4);
    name[4] = 0;
    *offset = read_u64(row + 8);
    *length = read_u64(row + 16);
    return true;
}

uint64_t index_number(const struct index *index, uint32_t star)
{
    uint64_t bit = (uint64_t)star * (uint64_t)index->id_width;
    int low = index->id_width < 32 ? index->id_width : 32;
    uint64_t value = packed_get(index->id, bit, low);
    return index->id_width <= 32
               ? value
               : value | packed_get(index->id, bit + 32, index->id_width - 32) << 32;
}

void index_set_place(int32_t place[2], const double v[3])
{
    double folded[2];
    octahedron_fold(folded, v);
    for (int i = 0; i < 2; i++) {
        place[i] = (int32_t)lrint(folded[i] * INT32_MAX);
    }
}

/* The walk down the levels; at the wanted one, neighbouring cells join into runs. */
struct visit {
    const struct index *index;
    int from, level; /* the levels that are shown */
    const double *centre;
    double reach[INDEX_MAX_LEVELS]; /* cosine of disc radius plus cell radius, for each level */
    uint32_t first, end;            /* the run being joined */
    void (*visit)(uint32_t first, uint32_t end, void *context);
    void *context;
};

static void visit_flush(struct visit *v)
{
    if (v->end > v->first && v->end <= v->index->stars) {
        v->visit(v->first, v->end, v->context);
    }
    v->first = v->end = 0;
}

static void visit_parts(struct visit *v, int level, uint32_t number);

static void visit_cell(struct visit *v, int level, uint32_t number)
{
    const struct index_cell *cell = &v->index->cell[number];
    const double place[2] = {cell->centre[0] / 32767.0, cell->centre[1] / 32767.0};
    double centre[3];
    octahedron_unfold(centre, place);
    if (vector_dot(centre, v->centre) < v->reach[level]) {
        return;
    }
    if (level >= v->from) {
        uint32_t first = cell->first_star;
        if (first != v->end) {
            visit_flush(v);
            v->first = first;
        }
        v->end = cell[1].first_star;
    }
    if (level < v->level) {
        visit_parts(v, level, number);
    }
}

/* A cell has four quarters at most, whatever a damaged file says. */
static void visit_parts(struct visit *v, int level, uint32_t number)
{
    const struct index *index = v->index;
    const uint32_t lowest = index->level[level + 1], highest = index->level[level + 2];
    uint32_t part = index->cell[number].first_part;
    uint32_t end = number + 1 < lowest ? index->cell[number + 1].first_part : highest;
    for (int i = 0; i < 4 && part < end && part >= lowest && part < highest; i++, part++) {
        visit_cell(v, level + 1, part);
    }
}

/* Largest distance from a cell's centre to its edge at each level, radians, rounded up: the corner
 * towards the pole of the cell at z = 2/3 (geometry of Gorski et al. 2005). */
static const double cell_radius[INDEX_MAX_LEVELS] = {
    0.8412,  0.4816,  0.2545,  0.13053, 0.06612, 0.03331, 0.01676,
    0.00844, 0.00428, 0.00219, 0.00115, 0.00058, 0.00029, 0.000146,
};

double index_cell_radius(int level)
{
    return cell_radius[level];
}

void index_visit_levels(const struct index *index, int from, int level, const double centre[3],
                        double radius, void (*visit)(uint32_t first, uint32_t end, void *context),
                        void *context)
{
    struct visit v = {index, from, level, centre, {0}, 0, 0, visit, context};
    for (int l = 0; l <= level; l++) {
        double reach = radius + cell_radius[l] + INDEX_CENTRE_ERROR;
        v.reach[l] = reach < 3.14159 ? cos(reach) : -2;
    }
    uint32_t bases = index->level[1] < 12 ? index->level[1] : 12;
    for (uint32_t base = 0; base < bases; base++) {
        visit_cell(&v, 0, base);
    }
    visit_flush(&v);
}

struct brightest {
    const struct index *index;
    const double *centre;
    double cos_radius;
    int mag;
    uint32_t *out;
    int base, count, limit; /* out[base..count) belongs to the level being read */
};

static void take_star(struct brightest *b, uint32_t number)
{
    const struct index_star *star = &b->index->star[number];
    if (star->mag > b->mag ||
        (b->count == b->limit && star->mag >= b->index->star[b->out[b->count - 1]].mag)) {
        return;
    }
    double v[3];
    index_star_vector(v, star);
    if (v[0] * b->centre[0] + v[1] * b->centre[1] + v[2] * b->centre[2] < b->cos_radius) {
        return;
    }
    int place = b->count < b->limit ? b->count++ : b->count - 1;
    while (place > b->base && b->index->star[b->out[place - 1]].mag > star->mag) {
        b->out[place] = b->out[place - 1];
        place--;
    }
    b->out[place] = number;
}

static void take_run(uint32_t first, uint32_t end, void *context)
{
    struct brightest *b = context;
    for (uint32_t i = first; i < end; i++) {
        take_star(b, i);
    }
}

int index_brightest(uint32_t *out, int limit, const struct index *index, const double centre[3],
                    double radius, int mag)
{
    struct brightest b = {index, centre, cos(radius), mag, out, 0, 0, limit};
    for (int level = 0; level < index->levels && b.count < limit; level++) {
        b.base = b.count;
        index_visit_levels(index, level, level, centre, radius, take_run, &b);
    }
    return b.count;
}
