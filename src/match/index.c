/* Decoding is kept apart from checking (index_check.c): the first must cost nothing, the second
 * must trust nothing. */
#include "match/index.h"

#include "match/index_layout.h"

#include <math.h>
#include <string.h>
#include <zlib.h>

static uint32_t read_u32(const unsigned char *p)
{
    return (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}

static uint64_t read_u64(const unsigned char *p)
{
    return (uint64_t)read_u32(p) | (uint64_t)read_u32(p + 4) << 32;
}

uint32_t index_header_checksum(const unsigned char *bytes)
{
    static const unsigned char zero[4] = {0};
    uLong crc = crc32(0, bytes, LAYOUT_CHECKSUM);
    crc = crc32(crc, zero, 4);
    crc = crc32(crc, bytes + LAYOUT_CHECKSUM + 4, LAYOUT_HEADER_END - LAYOUT_CHECKSUM - 4);
    return (uint32_t)crc;
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
        return error_set(err, ERROR_INPUT, "the index has version %u, expected %d; build it again",
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
        read_u32(b + LAYOUT_CHECKSUM) != index_header_checksum(b)) {
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
}

/* Sets *view to the records of section number i, or says what is wrong with its table row. */
static int find_section(const void **view, const unsigned char *b, size_t size, int i,
                        uint64_t records, uint64_t record_size, struct error *err)
{
    const unsigned char *row = b + LAYOUT_TABLE + i * LAYOUT_ROW;
    uint64_t offset = read_u64(row + 8), length = read_u64(row + 16), count = read_u64(row + 24);
    if (memcmp(row, layout_section_name[i], 4) != 0 || count != records ||
        length != records * record_size || offset % 64 != 0 || offset < LAYOUT_HEADER_END ||
        offset > size || length > size - offset) {
        return error_set(err, ERROR_INPUT,
                         "section %s of the index does not fit: offset %llu, %llu bytes, %llu "
                         "records where %llu of %llu bytes are expected",
                         layout_section_name[i], (unsigned long long)offset,
                         (unsigned long long)length, (unsigned long long)count,
                         (unsigned long long)records, (unsigned long long)record_size);
    }
    *view = b + offset;
    return 0;
}

/* Bytes of one of the catalogue's numbers: only the size of their section tells. */
static uint64_t idno_record(const unsigned char *b, uint32_t stars)
{
    uint64_t length = read_u64(b + LAYOUT_TABLE + LAYOUT_IDNO * LAYOUT_ROW + 16);
    return length == (uint64_t)stars * sizeof(uint64_t) ? sizeof(uint64_t)
                                                        : layout_record_size[LAYOUT_IDNO];
}

uint32_t index_first_cell(int level)
{
    return 4 * ((UINT32_C(1) << (2 * level)) - 1);
}

int index_decode(struct index *index, const void *bytes, size_t size, struct error *err)
{
    const unsigned char *b = bytes;
    struct index made = {0};
    int code = check_preamble(b, size, err);
    if (code) {
        return code;
    }
    read_facts(&made, b);
    if (made.stars == 0 || made.stars > INT32_MAX || made.quads > INT32_MAX || made.levels < 1 ||
        made.levels > INDEX_MAX_LEVELS || made.neighbours < 3 ||
        made.neighbours > INDEX_MAX_NEIGHBOURS) {
        return error_set(err, ERROR_INPUT,
                         "the index claims %u stars, %u quads, %d levels, %d neighbours, which "
                         "cannot be",
                         (unsigned)made.stars, (unsigned)made.quads, made.levels, made.neighbours);
    }
    const void *view[LAYOUT_SECTION_COUNT];
    const uint64_t records[LAYOUT_SECTION_COUNT] = {
        made.stars,
        made.stars,
        (uint64_t)index_first_cell(made.levels) + 1,
        (uint64_t)made.stars * (uint64_t)made.neighbours,
        (uint64_t)INDEX_SHAPE_CELLS + 1,
        made.quads,
    };
    for (int i = 0; i < LAYOUT_SECTION_COUNT; i++) {
        uint64_t record = i == LAYOUT_IDNO ? idno_record(b, made.stars) : layout_record_size[i];
        code = find_section(&view[i], b, size, i, records[i], record, err);
        if (code) {
            return code;
        }
    }
    made.star = view[0];
    bool wide = idno_record(b, made.stars) == sizeof *made.wide_id;
    made.id = wide ? NULL : view[LAYOUT_IDNO];
    made.wide_id = wide ? view[LAYOUT_IDNO] : NULL;
    made.cell = view[2];
    made.near = view[3];
    made.bucket = view[4];
    made.quad = view[5];
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

int index_shape_start(int part, int axis)
{
    return (axis % 2 ? part - INDEX_IM_CELLS / 2 : part) * INDEX_CELL_UNITS;
}

int index_shape_part(int units, int axis)
{
    const int width = INDEX_CELL_UNITS;
    int shifted = units - index_shape_start(0, axis);
    return shifted >= 0 ? shifted / width : -((-shifted + width - 1) / width);
}

uint32_t index_shape_cell(const int part[4])
{
    uint32_t cell = 0;
    for (int i = 0; i < 4; i++) {
        int cells = i % 2 ? INDEX_IM_CELLS : INDEX_RE_CELLS;
        int p = part[i] < 0 ? 0 : part[i] >= cells ? cells - 1 : part[i];
        cell = cell * (uint32_t)cells + (uint32_t)p;
    }
    return cell;
}

uint64_t index_number(const struct index *index, uint32_t star)
{
    return index->wide_id ? index->wide_id[star] : index->id[star];
}

void index_star_vector(double v[3], const struct index_star *star)
{
    for (int i = 0; i < 3; i++) {
        v[i] = star->v[i] * (1.0 / 2147483647.0);
    }
}

/* The walk down the levels; at the wanted one, neighbouring cells join into runs. */
struct visit {
    const struct index *index;
    int level;
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

static void visit_cell(struct visit *v, int level, uint32_t pixel)
{
    const struct index_cell *cell = &v->index->cell[index_first_cell(level) + pixel];
    double dot = cell->v[0] * v->centre[0] + cell->v[1] * v->centre[1] + cell->v[2] * v->centre[2];
    if (dot < v->reach[level]) {
        return;
    }
    if (level < v->level) {
        for (uint32_t child = 0; child < 4; child++) {
            visit_cell(v, level + 1, 4 * pixel + child);
        }
        return;
    }
    uint32_t first = cell->first_star, end = cell[1].first_star;
    if (first != v->end) {
        visit_flush(v);
        v->first = first;
    }
    v->end = end;
}

/* Largest distance from a cell's centre to its edge at each level, radians, rounded up: the corner
 * towards the pole of the cell at z = 2/3 (geometry of Gorski et al. 2005). */
static const double cell_radius[INDEX_MAX_LEVELS] = {
    0.8412, 0.4816, 0.2545, 0.13053, 0.06612, 0.03331, 0.01676, 0.00844, 0.00428, 0.00219, 0.00115,
};

double index_cell_radius(int level)
{
    return cell_radius[level];
}

void index_visit_level(const struct index *index, int level, const double centre[3], double radius,
                       void (*visit)(uint32_t first, uint32_t end, void *context), void *context)
{
    struct visit v = {index, level, centre, {0}, 0, 0, visit, context};
    for (int l = 0; l <= level; l++) {
        double reach = radius + cell_radius[l] + 1e-6;
        v.reach[l] = reach < 3.14159 ? cos(reach) : -2;
    }
    for (uint32_t base = 0; base < 12; base++) {
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
        index_visit_level(index, level, centre, radius, take_run, &b);
    }
    return b.count;
}
