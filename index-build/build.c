#include "build.h"

#include "base/median.h"
#include "base/parallel.h"
#include "base/units.h"
#include "choose_quads.h"
#include "match/index_layout.h"
#include "order_stars.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* Of fields 2.5 degrees wide 90 % solve with six neighbours, 93 % with seven, 94 % with eight;
 * eight would make the bundled index 90 MB. */
enum { DEFAULT_NEIGHBOURS = 7, DEFAULT_DENSITY = 30 };

static void write_u32(unsigned char *p, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        p[i] = (unsigned char)(value >> (8 * i));
    }
}

static void write_u64(unsigned char *p, uint64_t value)
{
    write_u32(p, (uint32_t)value);
    write_u32(p + 4, (uint32_t)(value >> 32));
}

static void write_text(unsigned char *p, const char *text, size_t room)
{
    size_t length = text ? strlen(text) : 0;
    memcpy(p, text ? text : "", length < room - 1 ? length : room - 1);
}

static uint64_t padded(uint64_t size)
{
    return (size + 63) / 64 * 64;
}

static void write_header(unsigned char *b, size_t size, const struct index *index,
                         const struct catalogue *catalogue, const struct build_options *options)
{
    int brightest = INT16_MAX, faintest = INT16_MIN;
    for (long i = 0; i < catalogue->count; i++) {
        int mag = catalogue->star[i].mag;
        brightest = mag < brightest ? mag : brightest;
        faintest = mag > faintest ? mag : faintest;
    }
    double epoch = catalogue->epoch_year > 0 ? catalogue->epoch_year : 2000;
    uint64_t epoch_bits;
    memcpy(&epoch_bits, &epoch, sizeof epoch_bits);
    memcpy(b, LAYOUT_MAGIC, 8);
    write_u32(b + LAYOUT_ORDER, 0x01020304);
    write_u32(b + LAYOUT_VERSION, INDEX_VERSION);
    write_u64(b + LAYOUT_SIZE, size);
    write_u32(b + LAYOUT_SECTIONS, LAYOUT_SECTION_COUNT);
    write_u32(b + LAYOUT_STARS, index->stars);
    write_u32(b + LAYOUT_QUADS, index->quads);
    write_u32(b + LAYOUT_LEVELS, (uint32_t)index->levels);
    write_u32(b + LAYOUT_NEIGHBOURS, (uint32_t)index->neighbours);
    write_u64(b + LAYOUT_EPOCH, epoch_bits);
    write_u32(b + LAYOUT_MAGNITUDES, (uint32_t)(uint16_t)brightest | (uint32_t)faintest << 16);
    write_text(b + LAYOUT_NAME, options->name, 64);
    write_text(b + LAYOUT_SOURCE, options->source, 128);
}

/* Where each section lies, and the size of the whole file behind the last. */
static void lay_out(uint64_t offset[LAYOUT_SECTION_COUNT + 1], uint64_t length[], uint64_t count[],
                    const struct index *index)
{
    const uint64_t stars = index->stars, neighbours = (uint64_t)index->neighbours;
    const uint64_t records[LAYOUT_SECTION_COUNT] = {
        stars,
        stars,
        (uint64_t)index_first_cell(index->levels) + 1,
        stars * neighbours,
        (uint64_t)INDEX_SHAPE_CELLS + 1,
        index->quads,
    };
    offset[0] = padded(LAYOUT_HEADER_END);
    for (int i = 0; i < LAYOUT_SECTION_COUNT; i++) {
        bool wide = i == LAYOUT_IDNO && index->wide_id;
        count[i] = records[i];
        length[i] = records[i] * (wide ? sizeof *index->wide_id : layout_record_size[i]);
        offset[i + 1] = padded(offset[i] + length[i]);
    }
}

static void write_table(unsigned char *b, const uint64_t *offset, const uint64_t *length,
                        const uint64_t *count)
{
    for (int i = 0; i < LAYOUT_SECTION_COUNT; i++) {
        unsigned char *row = b + LAYOUT_TABLE + i * LAYOUT_ROW;
        memcpy(row, layout_section_name[i], 4);
        write_u32(row + 4, (uint32_t)crc32_z(0, b + offset[i], length[i]));
        write_u64(row + 8, offset[i]);
        write_u64(row + 16, length[i]);
        write_u64(row + 24, count[i]);
    }
    write_u32(b + LAYOUT_CHECKSUM, index_header_checksum(b));
}

/* Splits the catalogue's stars into the file's two sections; one of id and wide_id is NULL. */
static void split_stars(struct index_star *star, uint32_t *id, uint64_t *wide_id,
                        const struct catalogue *catalogue)
{
    for (long i = 0; i < catalogue->count; i++) {
        const struct catalogue_star *from = &catalogue->star[i];
        memcpy(star[i].v, from->v, sizeof from->v);
        star[i].mag = from->mag;
        star[i].colour = from->colour;
        if (wide_id) {
            wide_id[i] = from->id;
        } else {
            id[i] = (uint32_t)from->id;
        }
    }
}

static double quad_diameter_deg(const struct index_quad *quad)
{
    return exp((quad->diameter - 24000) / 2000.0) * DEG_PER_RAD;
}

/* Diameters of up to a few thousand quads, evenly taken. */
static void measure_quads(struct build_report *report, const struct index *index)
{
    enum { SAMPLE = 4096 };
    double diameter[SAMPLE];
    int count = 0;
    uint32_t step = index->quads / SAMPLE + 1;
    for (uint32_t i = 0; i < index->quads; i += step) {
        diameter[count++] = quad_diameter_deg(&index->quad[i]);
    }
    if (count > 0) {
        report->median_deg = median_of(diameter, count);
        report->narrowest_deg = median_rank(diameter, count, 0);
        report->widest_deg = median_rank(diameter, count, count - 1);
    }
}

static void tell(const struct build_options *options, double share)
{
    if (options->progress) {
        options->progress(share, options->context);
    }
}

/* The parts of an index before the number of its quads, and so the size of the file, is known. */
struct parts {
    struct index_cell *cells;
    struct index_star *star;
    uint32_t *id, *near, *bucket;
    uint64_t *wide_id;
};

static void parts_free(struct parts *parts)
{
    free(parts->cells);
    free(parts->star);
    free(parts->id);
    free(parts->wide_id);
    free(parts->near);
    free(parts->bucket);
}

static bool has_wide_numbers(const struct catalogue *catalogue)
{
    uint64_t all = 0;
    for (long i = 0; i < catalogue->count; i++) {
        all |= catalogue->star[i].id;
    }
    return all > UINT32_MAX;
}

static int make_parts(struct parts *parts, struct index *index, struct catalogue *catalogue,
                      int threads, struct error *err)
{
    int code = order_stars(&parts->cells, &index->levels, catalogue, err);
    if (code) {
        return code;
    }
    size_t stars = (size_t)catalogue->count, neighbours = (size_t)index->neighbours;
    parts->star = malloc(stars * sizeof *parts->star);
    if (has_wide_numbers(catalogue)) {
        parts->wide_id = malloc(stars * sizeof *parts->wide_id);
    } else {
        parts->id = malloc(stars * sizeof *parts->id);
    }
    parts->near = malloc(stars * neighbours * sizeof *parts->near);
    parts->bucket = malloc(((size_t)INDEX_SHAPE_CELLS + 1) * sizeof *parts->bucket);
    if (!parts->star || (!parts->id && !parts->wide_id) || !parts->near || !parts->bucket) {
        return error_memory(err);
    }
    split_stars(parts->star, parts->id, parts->wide_id, catalogue);
    index->star = parts->star;
    index->id = parts->id;
    index->wide_id = parts->wide_id;
    index->cell = parts->cells;
    index->stars = (uint32_t)stars;
    code = choose_count(parts->near, parts->bucket, index, threads, err);
    index->near = parts->near;
    index->bucket = parts->bucket;
    index->quads = parts->bucket[INDEX_SHAPE_CELLS];
    return code;
}

/* Puts all sections into one block; the quads are made in their place. */
static int assemble(unsigned char **bytes, size_t *size, struct index *index,
                    const struct catalogue *catalogue, const struct build_options *options,
                    int threads, struct error *err)
{
    uint64_t offset[LAYOUT_SECTION_COUNT + 1];
    uint64_t length[LAYOUT_SECTION_COUNT], count[LAYOUT_SECTION_COUNT];
    lay_out(offset, length, count, index);
    unsigned char *b = calloc(1, offset[LAYOUT_SECTION_COUNT]);
    if (!b) {
        return error_memory(err);
    }
    const void *numbers = index->wide_id ? (const void *)index->wide_id : index->id;
    const void *records[] = {index->star, numbers, index->cell, index->near, index->bucket};
    for (int i = 0; i < LAYOUT_SECTION_COUNT - 1; i++) {
        memcpy(b + offset[i], records[i], length[i]);
    }
    struct index_quad *quad = (void *)(b + offset[LAYOUT_SECTION_COUNT - 1]);
    if (choose_place(quad, index, threads, err)) {
        free(b);
        return ERROR_MEMORY;
    }
    index->quad = quad;
    write_header(b, offset[LAYOUT_SECTION_COUNT], index, catalogue, options);
    write_table(b, offset, length, count);
    *bytes = b;
    *size = offset[LAYOUT_SECTION_COUNT];
    return 0;
}

int build_index(unsigned char **bytes, size_t *size, struct build_report *report,
                struct catalogue *catalogue, const struct build_options *options, struct error *err)
{
    struct parts parts = {0};
    struct index index = {.neighbours =
                              options->neighbours > 0 ? options->neighbours : DEFAULT_NEIGHBOURS};
    double density = options->density > 0 ? options->density : DEFAULT_DENSITY;
    int threads = options->threads > 0 ? options->threads : parallel_processors();

    long before = catalogue->count;
    int code = order_thin(catalogue, options->faintest, density, err);
    if (!code && catalogue->count < 4) {
        code = error_set(err, ERROR_INPUT, "%ld usable stars are too few for an index (4 at least)",
                         catalogue->count);
    }
    long dropped = before - catalogue->count;
    tell(options, 0.2);
    code = code ? code : make_parts(&parts, &index, catalogue, threads, err);
    tell(options, 0.6);
    code = code ? code : assemble(bytes, size, &index, catalogue, options, threads, err);
    if (!code) {
        *report = (struct build_report){.stars = catalogue->count,
                                        .quads = index.quads,
                                        .dropped = dropped,
                                        .density = density};
        measure_quads(report, &index);
        tell(options, 1);
    }
    parts_free(&parts);
    return code;
}
