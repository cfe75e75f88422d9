#include "build.h"

#include "base/parallel.h"
#include "base/units.h"
#include "choose_quads.h"
#include "match/index_layout.h"
#include "order_stars.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* Of fields 2.5 degrees wide 90 % solve with six neighbours, 93 % with seven, 94 % with eight; eight
 * would make the bundled index 90 MB. */
enum { DEFAULT_NEIGHBOURS = 7, DEFAULT_DENSITY = 100 };

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

struct sections {
    const void *records;
    uint64_t count;
    size_t record_size;
};

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

/* Lays the header, the section table and the sections into one block. */
static int assemble(unsigned char **bytes, size_t *size, const struct index *index,
                    const struct catalogue *catalogue, const struct build_options *options)
{
    const struct sections section[LAYOUT_SECTION_COUNT] = {
        {index->star, index->stars, sizeof *index->star},
        {index->id, index->stars, sizeof *index->id},
        {index->cell, (uint64_t)index_first_cell(index->levels) + 1, sizeof *index->cell},
        {index->near, (uint64_t)index->stars * (uint64_t)index->neighbours, sizeof *index->near},
        {index->bucket, (uint64_t)INDEX_CODE_CELLS + 1, sizeof *index->bucket},
        {index->quad, index->quads, sizeof *index->quad},
    };
    uint64_t total = padded(LAYOUT_HEADER_END);
    for (int i = 0; i < LAYOUT_SECTION_COUNT; i++) {
        total = padded(total + section[i].count * section[i].record_size);
    }
    unsigned char *b = calloc(1, total);
    if (!b) {
        return ERROR_MEMORY;
    }
    write_header(b, total, index, catalogue, options);
    uint64_t offset = padded(LAYOUT_HEADER_END);
    for (int i = 0; i < LAYOUT_SECTION_COUNT; i++) {
        uint64_t length = section[i].count * section[i].record_size;
        unsigned char *row = b + LAYOUT_TABLE + i * LAYOUT_ROW;
        if (length) {
            memcpy(b + offset, section[i].records, length);
        }
        memcpy(row, layout_section_name[i], 4);
        write_u32(row + 4, (uint32_t)crc32_z(0, b + offset, length));
        write_u64(row + 8, offset);
        write_u64(row + 16, length);
        write_u64(row + 24, section[i].count);
        offset = padded(offset + length);
    }
    write_u32(b + LAYOUT_CHECKSUM, index_header_checksum(b));
    *bytes = b;
    *size = total;
    return 0;
}

/* Splits the catalogue's 20-byte stars into the file's two sections. */
static int split_stars(struct index_star **star, uint32_t **id, const struct catalogue *catalogue)
{
    size_t count = (size_t)catalogue->count;
    *star = malloc(count * sizeof **star);
    *id = malloc(count * sizeof **id);
    if (!*star || !*id) {
        return ERROR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        const struct catalogue_star *from = &catalogue->star[i];
        memcpy((*star)[i].v, from->v, sizeof from->v);
        (*star)[i].mag = from->mag;
        (*star)[i].colour = from->colour;
        (*id)[i] = from->id;
    }
    return 0;
}

static int compare_double(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
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
        qsort(diameter, (size_t)count, sizeof diameter[0], compare_double);
        report->narrowest_deg = diameter[0];
        report->median_deg = diameter[count / 2];
        report->widest_deg = diameter[count - 1];
    }
}

static void tell(const struct build_options *options, double share)
{
    if (options->progress) {
        options->progress(share, options->context);
    }
}

int build_index(unsigned char **bytes, size_t *size, struct build_report *report,
                struct catalogue *catalogue, const struct build_options *options,
                struct error *err)
{
    struct index index = {0};
    struct index_cell *cells = NULL;
    struct index_star *star = NULL;
    uint32_t *id = NULL;
    struct chosen_quads chosen = {0};
    double density = options->density > 0 ? options->density : DEFAULT_DENSITY;
    int threads = options->threads > 0 ? options->threads : parallel_processors();

    int code = order_thin(catalogue, options->faintest, density, err);
    if (!code && catalogue->count < 4) {
        code = error_set(err, ERROR_INPUT, "%ld usable stars are too few for an index (4 at least)",
                         catalogue->count);
    }
    if (!code) {
        code = order_stars(&cells, &index.levels, catalogue, err);
    }
    if (!code && split_stars(&star, &id, catalogue)) {
        code = error_memory(err);
    }
    if (code) {
        goto done;
    }
    tell(options, 0.3);
    index.star = star;
    index.id = id;
    index.cell = cells;
    index.stars = (uint32_t)catalogue->count;
    index.neighbours = options->neighbours > 0 ? options->neighbours : DEFAULT_NEIGHBOURS;
    code = choose_quads(&chosen, &index, index.neighbours, threads, err);
    if (code) {
        goto done;
    }
    tell(options, 0.9);
    index.near = chosen.near;
    index.quad = chosen.quad;
    index.quads = chosen.count;
    index.bucket = chosen.bucket;
    if (assemble(bytes, size, &index, catalogue, options)) {
        code = error_memory(err);
        goto done;
    }
    *report = (struct build_report){.stars = catalogue->count, .quads = chosen.count};
    measure_quads(report, &index);
    tell(options, 1);
done:
    free(cells);
    free(star);
    free(id);
    chosen_quads_free(&chosen);
    return code;
}
