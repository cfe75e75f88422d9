#include "build.h"

#include "base/median.h"
#include "base/parallel.h"
#include "base/units.h"
#include "choose_quads.h"
#include "match/packed.h"
#include "order_stars.h"
#include "section_writer.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Of fields 2.5 degrees wide 90 % solve with six neighbours, 93 % with seven, 94 % with eight. Of
 * the 35 quads that seven make, the narrowest 24 solve as many lists as all of them do. */
enum { DEFAULT_NEIGHBOURS = 8, DEFAULT_QUADS = 21, DEFAULT_DENSITY = 30 };

/* How finely the space of shapes is cut: into more and smaller cells for more quads, so that as
 * many of them have to be looked at. What is stored of a shape tells it to a
 * hundredth or little less.
 */
static const struct {
    uint64_t most_quads;
    int parts, steps;
} fineness[] = {{12000000, 25, 4}, {200000000, 40, 2}, {UINT64_MAX, 80, 1}};

/* Work on one index. */
struct build {
    const struct build_options *options;
    struct build_report *report;
    struct catalogue *catalogue;
    struct index index;
    struct section_writer writer;
    struct quad_heap heap;
    double share_of_sky;
    struct index_star *star;
    struct index_cell *cells;
    double epoch_year;
    double *width; /* of some quads, radians */
    int widths, quads, threads;
    struct error *err;
};

static void tell(const struct build *w, double share)
{
    if (w->options->progress) {
        w->options->progress(share, w->options->context);
    }
}

static void choose_grid(struct build *w)
{
    uint64_t expected = (uint64_t)w->catalogue->count * (uint64_t)w->quads;
    int i = 0;
    while (expected > fineness[i].most_quads) {
        i++;
    }
    shape_grid_make(&w->index.grid, fineness[i].parts, fineness[i].steps);
}

static void write_numbers(struct build *w)
{
    enum { AT_ONCE = 4096 };
    const struct catalogue *catalogue = w->catalogue;
    unsigned char bytes[AT_ONCE * 8 + PACKED_SLACK];
    uint64_t all = 0;
    for (long i = 0; i < catalogue->count; i++) {
        all |= catalogue->star[i].id;
    }
    const int width = w->index.id_width = packed_width(all), low = width < 32 ? width : 32;
    section_begin(&w->writer, LAYOUT_IDNO, (uint64_t)catalogue->count);
    for (long first = 0; first < catalogue->count; first += AT_ONCE) {
        long count = catalogue->count - first < AT_ONCE ? catalogue->count - first : AT_ONCE;
        memset(bytes, 0, sizeof bytes);
        for (long i = 0; i < count; i++) {
            uint64_t id = catalogue->star[first + i].id, bit = (uint64_t)i * (uint64_t)width;
            packed_put(bytes, bit, id & (((uint64_t)1 << low) - 1));
            packed_put(bytes, bit + 32, id >> 32);
        }
        section_put(&w->writer, bytes, packed_size((uint64_t)count, width) - PACKED_SLACK);
    }
    memset(bytes, 0, PACKED_SLACK);
    section_put(&w->writer, bytes, PACKED_SLACK);
    section_end(&w->writer, LAYOUT_IDNO);
}

/* The stars as the file has them take the place of the catalogue's, which is twice as large. */
static struct index_star *shrink_stars(struct catalogue *catalogue)
{
    char *bytes = (char *)catalogue->star;
    size_t size = sizeof(struct index_star), count = (size_t)catalogue->count;
    for (size_t i = 0; i < count; i++) {
        const struct catalogue_star from = catalogue->star[i];
        const struct index_star star = {
            .place = {from.place[0], from.place[1]}, .mag = from.mag, .colour = from.colour};
        memcpy(bytes + i * size, &star, size);
    }
    catalogue->star = NULL;
    catalogue->count = catalogue->capacity = 0;
    void *fitting = realloc(bytes, count * size);
    return fitting ? fitting : (void *)bytes;
}

static void measure_widths(struct build *w)
{
    if (w->widths > 0) {
        w->report->median_deg = median_of(w->width, w->widths) * DEG_PER_RAD;
        w->report->narrowest_deg = median_rank(w->width, w->widths, 0) * DEG_PER_RAD;
        w->report->widest_deg = median_rank(w->width, w->widths, w->widths - 1) * DEG_PER_RAD;
    }
}

static void note_magnitudes(struct build *w)
{
    int brightest = INT16_MAX, faintest = INT16_MIN;
    for (long i = 0; i < w->catalogue->count; i++) {
        int mag = w->catalogue->star[i].mag;
        brightest = mag < brightest ? mag : brightest;
        faintest = mag > faintest ? mag : faintest;
    }
    w->report->brightest = brightest / 1000.0;
    w->report->faintest = faintest / 1000.0;
}

static void write_section(struct build *w, int section, const void *bytes, uint64_t count,
                          size_t record)
{
    section_begin(&w->writer, section, count);
    section_put(&w->writer, bytes, (size_t)count * record);
    section_end(&w->writer, section);
}

enum { CHUNKS_AT_ONCE = 32 };

/* Some chunks that are worked on side by side. */
struct batch {
    const struct build *work;
    uint32_t first;
    struct chosen chosen[CHUNKS_AT_ONCE];
};

static void do_chunk(int item, void *context)
{
    struct batch *batch = context;
    const struct build *w = batch->work;
    choose_chunk(&batch->chosen[item], &w->index, batch->first + (uint32_t)item, w->quads,
                 w->share_of_sky);
}

int build_take(struct build *w, struct chosen *chosen)
{
    int code = chosen->no_memory ? error_memory(w->err) : 0;
    if (!code) {
        section_put(&w->writer, chosen->near, chosen->near_size);
        w->index.quads += chosen->quads;
        memcpy(w->width + w->widths, chosen->width, (size_t)chosen->widths * sizeof *w->width);
        w->widths += chosen->widths;
        code = quad_heap_add(&w->heap, chosen->quad, chosen->quads, w->err);
    }
    chosen_free(chosen);
    if (!code && w->index.quads > INT32_MAX) {
        code =
            error_set(w->err, ERROR_INPUT, "more than 2^31 quads are more than an index can hold");
    }
    return code;
}

static uint32_t count_chunks(const struct build *w)
{
    return (w->index.stars + CHOOSE_CHUNK - 1) / CHOOSE_CHUNK;
}

void build_choose_one(struct chosen *chosen, const struct build *w, uint32_t chunk)
{
    *chosen = (struct chosen){0};
    choose_chunk(chosen, &w->index, chunk, w->quads, w->share_of_sky);
}

/* Neighbours are written as they come; their quads go to the heap. */
static int start_choosing(struct build *w)
{
    int code =
        quad_heap_make(&w->heap, w->index.grid.cells, choose_shift(&w->index),
                       (uint64_t)w->index.stars * (uint64_t)w->quads, w->options->beside, w->err);
    w->width = malloc(((size_t)count_chunks(w) + 1) * CHOOSE_WIDTHS * sizeof *w->width);
    section_begin(&w->writer, LAYOUT_NEAR,
                  (uint64_t)w->index.stars * (uint64_t)w->index.neighbours);
    return code || w->width ? code : error_memory(w->err);
}

int build_choose(struct build *w, uint32_t first, uint32_t end)
{
    struct batch batch = {.work = w, .first = first};
    int code = 0;
    for (; batch.first < end && !code; batch.first += CHUNKS_AT_ONCE) {
        uint32_t left = end - batch.first;
        int here = left < CHUNKS_AT_ONCE ? (int)left : CHUNKS_AT_ONCE;
        parallel_each(here, w->threads, do_chunk, &batch);
        for (int i = 0; i < here; i++) {
            int taken = build_take(w, &batch.chosen[i]);
            code = code ? code : taken;
        }
        tell(w, 0.2 + 0.6 * batch.first / count_chunks(w));
    }
    return code;
}

static int finish_choosing(struct build *w)
{
    static const unsigned char slack[PACKED_SLACK] = {0};
    section_put(&w->writer, slack, sizeof slack);
    section_end(&w->writer, LAYOUT_NEAR);
    if (w->index.quads > 0) {
        return 0;
    }
    return error_set(w->err, ERROR_INPUT,
                     "no four of the %u stars make a quad to search by: they lie too close "
                     "together, or too far apart",
                     (unsigned)w->index.stars);
}

/* Room for the bytes of one cell's quads. */
struct block_room {
    unsigned char *bytes;
    size_t room;
};

/* Writes the quads of one cell, which are in order of their numbers; returns how many bytes they
 * take, 0 when memory is short. */
static size_t write_block(struct build *w, struct block_room *block, const heap_quad *quad,
                          uint32_t count)
{
    const int pairs = 2 * index_pair_width(w->index.grid.steps);
    const int low = index_low_width(&w->index, count), number_width = w->heap.cell_shift - pairs;
    const uint64_t width = (uint64_t)(pairs + low), head = count < 255 ? 1 : 5;
    const uint64_t all_numbers = ((uint64_t)1 << number_width) - 1;
    uint64_t last = (quad[count - 1] >> pairs & all_numbers) >> low;
    const uint64_t records = count * width; /* bits; the upper parts follow */
    const size_t size = (size_t)(head + (records + last + count + 7) / 8);
    if (size + PACKED_SLACK > block->room) {
        unsigned char *grown = realloc(block->bytes, 2 * size + PACKED_SLACK);
        if (!grown) {
            return 0;
        }
        block->bytes = grown;
        block->room = 2 * size + PACKED_SLACK;
    }
    unsigned char *record = block->bytes + head;
    memset(block->bytes, 0, size + PACKED_SLACK);
    block->bytes[0] = count < 255 ? (unsigned char)count : 255;
    if (count >= 255) {
        section_u32(block->bytes + 1, count);
    }
    for (uint32_t i = 0; i < count; i++) {
        uint64_t number = quad[i] >> pairs & all_numbers;
        uint64_t pair = quad[i] & (((uint64_t)1 << pairs) - 1);
        uint64_t lower = number & (((uint64_t)1 << low) - 1);
        uint64_t bit = records + (number >> low) + i;
        packed_put(record, i * width, lower << pairs | pair);
        packed_put(record, bit, 1);
    }
    section_put(&w->writer, block->bytes, size);
    return size;
}

static int write_pile(struct build *w, uint32_t *start, struct block_room *room, uint64_t *place,
                      uint32_t pile)
{
    heap_quad *quad;
    uint32_t *first, cell = quad_heap_cell(&w->heap, pile);
    uint32_t cells = quad_heap_cell(&w->heap, pile + 1) - cell;
    int code = quad_heap_take(&quad, &first, &w->heap, pile, w->err);
    for (uint32_t i = 0; i < cells && !code; i++) {
        uint32_t count = first[i + 1] - first[i];
        start[cell + i] = (uint32_t)*place;
        if (count > 0) {
            size_t size = write_block(w, room, quad + first[i], count);
            code = size ? 0 : error_memory(w->err);
            *place += size;
        }
    }
    if (!code) {
        free(quad);
        free(first);
    }
    return code;
}

/* Packed, each as wide as the last one needs. */
static void write_starts(struct build *w, const uint32_t *start)
{
    enum { AT_ONCE = 4096 };
    const uint32_t count = w->index.grid.cells + 1;
    const int width = packed_width(start[count - 1]);
    unsigned char bytes[AT_ONCE * 4 + PACKED_SLACK];
    section_begin(&w->writer, LAYOUT_CODE, count);
    for (uint32_t first = 0; first < count; first += AT_ONCE) {
        uint32_t here = count - first < AT_ONCE ? count - first : AT_ONCE;
        memset(bytes, 0, sizeof bytes);
        for (uint32_t i = 0; i < here; i++) {
            packed_put(bytes, (uint64_t)i * (uint64_t)width, start[first + i]);
        }
        section_put(&w->writer, bytes, packed_size(here, width) - PACKED_SLACK);
    }
    memset(bytes, 0, PACKED_SLACK);
    section_put(&w->writer, bytes, PACKED_SLACK);
    section_end(&w->writer, LAYOUT_CODE);
}

/* Takes the quads from the heap, cell by cell, and writes them and where each cell's begin. */
static int write_quads(struct build *w)
{
    static const unsigned char slack[PACKED_SLACK] = {0};
    const uint32_t cells = w->index.grid.cells;
    uint32_t *start = malloc(((size_t)cells + 1) * sizeof *start);
    struct block_room room = {0};
    uint64_t place = 0;
    int code = start ? 0 : error_memory(w->err);
    section_begin(&w->writer, LAYOUT_QUAD, w->index.quads);
    for (uint32_t pile = 0; pile < w->heap.piles && !code; pile++) {
        code = write_pile(w, start, &room, &place, pile);
        if (!code && place > UINT32_MAX) {
            code = error_set(w->err, ERROR_INPUT, "the quads are more than an index can hold");
        }
        tell(w, 0.8 + 0.2 * pile / w->heap.piles);
    }
    section_put(&w->writer, slack, sizeof slack);
    section_end(&w->writer, LAYOUT_QUAD);
    if (!code) {
        start[cells] = (uint32_t)place;
        write_starts(w, start);
    }
    free(room.bytes);
    free(start);
    return code;
}

static void write_text(unsigned char *p, const char *text, size_t room)
{
    size_t length = text ? strlen(text) : 0;
    memcpy(p, text ? text : "", length < room - 1 ? length : room - 1);
}

static void write_header(struct build *w, double epoch)
{
    unsigned char b[LAYOUT_HEADER_END] = {0};
    const struct index *index = &w->index;
    uint64_t epoch_bits;
    memcpy(&epoch_bits, &epoch, sizeof epoch_bits);
    int brightest = (int)lrint(w->report->brightest * 1000);
    int faintest = (int)lrint(w->report->faintest * 1000);
    memcpy(b, LAYOUT_MAGIC, 8);
    section_u32(b + LAYOUT_ORDER, 0x01020304);
    section_u32(b + LAYOUT_VERSION, INDEX_VERSION);
    section_u32(b + LAYOUT_SECTIONS, LAYOUT_SECTION_COUNT);
    section_u32(b + LAYOUT_STARS, index->stars);
    section_u32(b + LAYOUT_QUADS, index->quads);
    section_u32(b + LAYOUT_LEVELS, (uint32_t)index->levels);
    section_u32(b + LAYOUT_NEIGHBOURS, (uint32_t)index->neighbours);
    section_u64(b + LAYOUT_EPOCH, epoch_bits);
    section_u32(b + LAYOUT_MAGNITUDES, (uint32_t)(uint16_t)brightest | (uint32_t)faintest << 16);
    section_u32(b + LAYOUT_ID_WIDTH, (uint32_t)index->id_width);
    section_u32(b + LAYOUT_PARTS, (uint32_t)index->grid.parts);
    section_u32(b + LAYOUT_STEPS, (uint32_t)index->grid.steps);
    for (int level = 0; level <= index->levels; level++) {
        section_u32(b + LAYOUT_LEVEL + 4 * level, index->level[level]);
    }
    write_text(b + LAYOUT_NAME, w->options->name, 64);
    write_text(b + LAYOUT_SOURCE, w->options->source, 128);
    section_write_header(&w->writer, b);
}

/* The parts that hold stars. */
static void write_stars(struct build *w)
{
    w->index.stars = (uint32_t)w->catalogue->count;
    w->index.near_width = index_near_width(w->index.stars);
    w->index.cell = w->cells;
    note_magnitudes(w);
    write_numbers(w);
    w->index.star = w->star = shrink_stars(w->catalogue);
    write_section(w, LAYOUT_STAR, w->star, w->index.stars, sizeof *w->star);
    write_section(w, LAYOUT_CELL, w->cells, (uint64_t)w->index.level[w->index.levels] + 1,
                  sizeof *w->cells);
}

static void free_stars(struct build *w)
{
    w->index.star = NULL;
    w->index.cell = NULL;
    free(w->star);
    free(w->cells);
    w->star = NULL;
    w->cells = NULL;
}

static int begin(struct build *w)
{
    w->epoch_year = w->catalogue->epoch_year > 0 ? w->catalogue->epoch_year : 2000;
    long before = w->catalogue->count;
    int code = order_thin(w->catalogue, w->options->faintest, w->report->density, w->err);
    if (!code && w->catalogue->count < 4) {
        code = error_set(w->err, ERROR_INPUT, "%ld usable %s too few for an index (4 at least)",
                         w->catalogue->count, w->catalogue->count == 1 ? "star is" : "stars are");
    }
    if (!code && w->catalogue->count > INT32_MAX) {
        code = error_set(w->err, ERROR_INPUT, "%ld stars are more than an index can hold",
                         w->catalogue->count);
    }
    if (code) {
        return code;
    }
    w->report->stars = w->catalogue->count;
    w->report->dropped = before - w->catalogue->count;
    choose_grid(w);
    w->share_of_sky = order_share_of_sky(w->catalogue);
    code = order_stars(&w->cells, &w->index, w->catalogue, w->share_of_sky, w->err);
    tell(w, 0.2);
    if (!code) {
        write_stars(w);
        code = start_choosing(w);
    }
    return code;
}

static void free_build(struct build *w)
{
    free_stars(w);
    quad_heap_free(&w->heap);
    free(w->width);
    free(w);
}

struct build *build_begin(uint32_t *chunks, FILE *out, struct build_report *report,
                          struct catalogue *catalogue, const struct build_options *options,
                          struct error *err)
{
    *report =
        (struct build_report){.density = options->density > 0 ? options->density : DEFAULT_DENSITY};
    struct build *w = malloc(sizeof *w);
    if (!w) {
        error_memory(err);
        return NULL;
    }
    *w = (struct build){
        .options = options,
        .report = report,
        .catalogue = catalogue,
        .writer = {.out = out},
        .quads = options->quads > 0 ? options->quads : DEFAULT_QUADS,
        .threads = options->threads > 0 ? options->threads : parallel_processors(),
        .err = err,
    };
    index_set_neighbours(&w->index,
                         options->neighbours > 0 ? options->neighbours : DEFAULT_NEIGHBOURS);
    if (begin(w)) {
        free_build(w);
        return NULL;
    }
    *chunks = count_chunks(w);
    return w;
}

int build_end(struct build *w, bool abandoned)
{
    int code = abandoned ? 0 : finish_choosing(w);
    free_stars(w);
    if (!code && !abandoned) {
        code = write_quads(w);
    }
    if (!code && !abandoned) {
        write_header(w, w->epoch_year);
        measure_widths(w);
        w->report->quads = w->index.quads;
        w->report->bytes = w->writer.place;
        tell(w, 1);
    }
    free_build(w);
    return code;
}

int build_index(FILE *out, struct build_report *report, struct catalogue *catalogue,
                const struct build_options *options, struct error *err)
{
    uint32_t chunks;
    struct error cause = {0};
    struct build *w = build_begin(&chunks, out, report, catalogue, options, &cause);
    int code = w ? build_choose(w, 0, chunks) : cause.code;
    if (w) {
        int ended = build_end(w, code != 0);
        code = code ? code : ended;
    }
    if (code && err) {
        *err = cause;
    }
    return code;
}
