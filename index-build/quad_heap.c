#include "quad_heap.h"

#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { BLOCK_QUADS = 8192 };

/* 128 MB; a pile has half as much at most on average. */
static const uint64_t most_in_memory = 16000000, pile_quads = 4000000;

/* Full blocks, in memory or at places of the file, and one that is being filled. */
struct quad_pile {
    heap_quad **block;
    uint64_t *place;
    uint32_t blocks, room;
    heap_quad *open;
    uint32_t open_quads;
};

static FILE *open_file(const char *beside)
{
    char name[4096];
    if (!beside) {
        return tmpfile();
    }
    int length = snprintf(name, sizeof name, "%s.quads-XXXXXX", beside);
    if (length < 0 || (size_t)length >= sizeof name) {
        return tmpfile();
    }
    int descriptor = mkstemp(name);
    if (descriptor < 0) {
        return NULL;
    }
    unlink(name);
    return fdopen(descriptor, "w+b");
}

int quad_heap_make(struct quad_heap *heap, uint32_t cells, int cell_shift, uint64_t expected,
                   const char *beside, struct error *err)
{
    uint32_t piles = (uint32_t)(expected / pile_quads) + 1;
    *heap = (struct quad_heap){.cells = cells, .cell_shift = cell_shift};
    heap->cells_each = (cells + piles - 1) / piles;
    heap->piles = (cells + heap->cells_each - 1) / heap->cells_each;
    heap->pile = calloc(heap->piles, sizeof *heap->pile);
    if (!heap->pile) {
        return error_memory(err);
    }
    if (expected > most_in_memory) {
        heap->file = open_file(beside);
        if (!heap->file) {
            return error_set(err, ERROR_OUTPUT, "no temporary file for the quads: %s",
                             strerror(errno));
        }
    }
    return 0;
}

void quad_heap_free(struct quad_heap *heap)
{
    for (uint32_t p = 0; heap->pile && p < heap->piles; p++) {
        struct quad_pile *pile = &heap->pile[p];
        for (uint32_t i = 0; pile->block && i < pile->blocks; i++) {
            free(pile->block[i]);
        }
        free(pile->block);
        free(pile->place);
        free(pile->open);
    }
    free(heap->pile);
    if (heap->file) {
        fclose(heap->file);
    }
    *heap = (struct quad_heap){0};
}

uint32_t quad_heap_cell(const struct quad_heap *heap, uint32_t pile)
{
    uint64_t cell = (uint64_t)pile * heap->cells_each;
    return cell < heap->cells ? (uint32_t)cell : heap->cells;
}

static bool make_room(struct quad_pile *pile, bool in_file)
{
    if (pile->blocks < pile->room) {
        return true;
    }
    uint32_t room = 2 * pile->room + 16;
    void *kept = in_file ? (void *)pile->place : (void *)pile->block;
    void *grown = realloc(kept, room * (in_file ? sizeof *pile->place : sizeof *pile->block));
    if (!grown) {
        return false;
    }
    if (in_file) {
        pile->place = grown;
    } else {
        pile->block = grown;
    }
    pile->room = room;
    return true;
}

static int put_away(struct quad_heap *heap, struct quad_pile *pile, struct error *err)
{
    if (!make_room(pile, heap->file != NULL)) {
        return error_memory(err);
    }
    if (!heap->file) {
        pile->block[pile->blocks++] = pile->open;
        pile->open = NULL;
    } else if (fwrite(pile->open, sizeof *pile->open, BLOCK_QUADS, heap->file) == BLOCK_QUADS) {
        pile->place[pile->blocks++] = heap->blocks_in_file++;
    } else {
        return error_set(err, ERROR_OUTPUT, "the temporary file for the quads: %s",
                         strerror(errno));
    }
    pile->open_quads = 0;
    return 0;
}

static int add_one(struct quad_heap *heap, heap_quad quad, struct error *err)
{
    struct quad_pile *pile = &heap->pile[(quad >> heap->cell_shift) / heap->cells_each];
    if (!pile->open) {
        pile->open = malloc(BLOCK_QUADS * sizeof *pile->open);
        if (!pile->open) {
            return error_memory(err);
        }
    }
    pile->open[pile->open_quads++] = quad;
    return pile->open_quads == BLOCK_QUADS ? put_away(heap, pile, err) : 0;
}

int quad_heap_add(struct quad_heap *heap, const heap_quad *quad, uint64_t count, struct error *err)
{
    int code = 0;
    for (uint64_t i = 0; i < count && !code; i++) {
        code = add_one(heap, quad[i], err);
    }
    return code;
}

/* Calls see for each block of the pile in the order in which it was filled. */
static int each_block(struct quad_heap *heap, struct quad_pile *pile, heap_quad *buffer,
                      void (*see)(const heap_quad *quad, uint32_t count, void *context),
                      void *context, struct error *err)
{
    for (uint32_t i = 0; i < pile->blocks; i++) {
        const heap_quad *block = buffer;
        if (!heap->file) {
            block = pile->block[i];
        } else if (fseeko(heap->file, (off_t)(pile->place[i] * BLOCK_QUADS * sizeof *buffer),
                          SEEK_SET) != 0 ||
                   fread(buffer, sizeof *buffer, BLOCK_QUADS, heap->file) != BLOCK_QUADS) {
            return error_set(err, ERROR_OUTPUT, "the temporary file for the quads: %s",
                             strerror(errno));
        }
        see(block, BLOCK_QUADS, context);
    }
    if (pile->open) {
        see(pile->open, pile->open_quads, context);
    }
    return 0;
}

/* A stable sort by cell: counts first, then places. */
struct sorting {
    uint32_t *first; /* one a cell: counted so far, or the next place */
    heap_quad *quad;
    uint32_t cell;
    int shift;
};

static void count_quads(const heap_quad *quad, uint32_t count, void *context)
{
    struct sorting *s = context;
    for (uint32_t i = 0; i < count; i++) {
        s->first[(quad[i] >> s->shift) - s->cell + 1]++;
    }
}

static void place_quads(const heap_quad *quad, uint32_t count, void *context)
{
    struct sorting *s = context;
    for (uint32_t i = 0; i < count; i++) {
        s->quad[s->first[(quad[i] >> s->shift) - s->cell]++] = quad[i];
    }
}

static int sort_pile(struct sorting *s, struct quad_heap *heap, struct quad_pile *pile,
                     uint32_t cells, heap_quad *buffer, struct error *err)
{
    int code = each_block(heap, pile, buffer, count_quads, s, err);
    if (code) {
        return code;
    }
    for (uint32_t i = 0; i < cells; i++) {
        s->first[i + 1] += s->first[i];
    }
    s->quad = malloc(((size_t)s->first[cells] + 1) * sizeof *s->quad);
    if (!s->quad) {
        return error_memory(err);
    }
    code = each_block(heap, pile, buffer, place_quads, s, err);
    /* Each place has moved on to where the next cell begins. */
    memmove(s->first + 1, s->first, cells * sizeof *s->first);
    s->first[0] = 0;
    return code;
}

static void empty_pile(struct quad_pile *pile)
{
    for (uint32_t i = 0; pile->block && i < pile->blocks; i++) {
        free(pile->block[i]);
    }
    free(pile->block);
    free(pile->place);
    free(pile->open);
    *pile = (struct quad_pile){0};
}

int quad_heap_take(heap_quad **quad, uint32_t **first, struct quad_heap *heap, uint32_t pile,
                   struct error *err)
{
    uint32_t cell = quad_heap_cell(heap, pile), cells = quad_heap_cell(heap, pile + 1) - cell;
    struct sorting s = {.cell = cell, .shift = heap->cell_shift};
    heap_quad *buffer = heap->file ? malloc(BLOCK_QUADS * sizeof *buffer) : NULL;
    s.first = calloc((size_t)cells + 2, sizeof *s.first);
    int code = !s.first || (heap->file && !buffer)
                   ? error_memory(err)
                   : sort_pile(&s, heap, &heap->pile[pile], cells, buffer, err);
    free(buffer);
    empty_pile(&heap->pile[pile]);
    if (code) {
        free(s.first);
        free(s.quad);
        return code;
    }
    *quad = s.quad;
    *first = s.first;
    return 0;
}
