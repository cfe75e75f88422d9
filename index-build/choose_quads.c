/* The rule "an anchor and three of its nearest brighter stars" follows the sky's own scale: quads of
 * bright stars are wide, quads of faint stars are small, and a frame that shows the n brightest stars
 * of its field holds the quads of all of them, whatever its field. */
#include "choose_quads.h"

#include "base/parallel.h"
#include "base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CHUNK_STARS = 2048 };

/* Neighbours farther than this cannot be in a quad that is narrow enough. */
static const double farthest = 20 * RAD_PER_DEG;

struct neighbours {
    const struct index *index;
    uint32_t anchor;
    double centre[3];
    double cos_radius;
    int count, wanted;
    uint32_t star[INDEX_MAX_NEIGHBOURS]; /* nearest first */
    double dot[INDEX_MAX_NEIGHBOURS];
};

static bool is_brighter(const struct index *index, uint32_t star, uint32_t than)
{
    int a = index->star[star].mag, b = index->star[than].mag;
    return a < b || (a == b && star < than);
}

static void consider(struct neighbours *n, uint32_t star)
{
    double v[3];
    if (!is_brighter(n->index, star, n->anchor)) {
        return;
    }
    index_star_vector(v, &n->index->star[star]);
    double dot = v[0] * n->centre[0] + v[1] * n->centre[1] + v[2] * n->centre[2];
    if (dot < n->cos_radius || (n->count == n->wanted && dot <= n->dot[n->count - 1])) {
        return;
    }
    int place = n->count < n->wanted ? n->count++ : n->count - 1;
    for (; place > 0 && n->dot[place - 1] < dot; place--) {
        n->dot[place] = n->dot[place - 1];
        n->star[place] = n->star[place - 1];
    }
    n->dot[place] = dot;
    n->star[place] = star;
}

static void consider_run(uint32_t first, uint32_t end, void *context)
{
    for (uint32_t star = first; star < end; star++) {
        consider(context, star);
    }
}

static int level_of_star(const struct index *index, uint32_t star)
{
    int level = 0;
    while (level < index->levels - 1 && star >= 16 * ((UINT32_C(1) << (2 * level + 2)) - 1)) {
        level++;
    }
    return level;
}

/* Widens the disc until enough brighter stars lie in it. */
static void find_neighbours(struct neighbours *n)
{
    int level = level_of_star(n->index, n->anchor);
    double expected = 16.0 * (pow(4, level) - 1) + 8;
    double radius = fmin(2.4 * sqrt(n->wanted / expected), farthest);
    index_star_vector(n->centre, &n->index->star[n->anchor]);
    for (;;) {
        n->count = 0;
        n->cos_radius = cos(radius);
        for (int l = 0; l <= level; l++) {
            index_visit_level(n->index, l, n->centre, radius, consider_run, n);
        }
        if (n->count == n->wanted || radius >= farthest) {
            return;
        }
        radius = fmin(1.6 * radius, farthest);
    }
}

struct placed_quad {
    struct index_quad quad;
    uint32_t cell;
};

/* The quads of CHUNK_STARS anchors. */
struct chunk {
    struct placed_quad *placed;
    uint32_t count, capacity;
    bool failed;
};

static void chunk_add(struct chunk *chunk, const struct placed_quad *placed)
{
    if (chunk->count == chunk->capacity) {
        uint32_t capacity = chunk->capacity ? 2 * chunk->capacity : 16384;
        struct placed_quad *more = realloc(chunk->placed, capacity * sizeof *more);
        if (!more) {
            chunk->failed = true;
            return;
        }
        chunk->placed = more;
        chunk->capacity = capacity;
    }
    chunk->placed[chunk->count++] = *placed;
}

struct job {
    struct index index; /* with near, which this job fills */
    uint32_t *near;
    struct chunk *chunk;
};

static void choose_for_anchor(struct chunk *chunk, const struct job *job, uint32_t anchor)
{
    int wanted = job->index.neighbours;
    struct neighbours n = {.index = &job->index, .anchor = anchor, .wanted = wanted};
    find_neighbours(&n);
    uint32_t *near = job->near + (size_t)anchor * (size_t)wanted;
    for (int i = 0; i < wanted; i++) {
        near[i] = i < n.count ? n.star[i] : INDEX_NO_STAR;
    }
    for (int i = 1; i <= n.count; i++) {
        for (int j = i + 1; j <= n.count; j++) {
            for (int k = j + 1; k <= n.count; k++) {
                struct placed_quad placed;
                const int ordinal[3] = {i, j, k};
                if (index_make_quad(&placed.quad, &placed.cell, &job->index, anchor, ordinal)) {
                    chunk_add(chunk, &placed);
                }
            }
        }
    }
}

static void choose_chunk(int item, void *context)
{
    const struct job *job = context;
    uint32_t first = (uint32_t)item * CHUNK_STARS, stars = job->index.stars;
    uint32_t end = first + CHUNK_STARS < stars ? first + CHUNK_STARS : stars;
    for (uint32_t anchor = first; anchor < end; anchor++) {
        choose_for_anchor(&job->chunk[item], job, anchor);
    }
}

static int compare_quads(const void *left, const void *right)
{
    const struct index_quad *a = left, *b = right;
    int c = memcmp(a->code, b->code, sizeof a->code);
    if (c == 0) {
        c = (a->anchor > b->anchor) - (a->anchor < b->anchor);
    }
    return c ? c : (a->members > b->members) - (a->members < b->members);
}

/* Deals the chunks' quads into their code cells, then sorts each cell. */
static int sort_into_cells(struct chosen_quads *chosen, const struct chunk *chunk, int chunks)
{
    uint32_t *place = calloc((size_t)INDEX_CODE_CELLS + 1, sizeof *place);
    chosen->bucket = calloc((size_t)INDEX_CODE_CELLS + 1, sizeof *chosen->bucket);
    chosen->quad = malloc((chosen->count ? chosen->count : 1) * sizeof *chosen->quad);
    if (!place || !chosen->bucket || !chosen->quad) {
        free(place);
        return ERROR_MEMORY;
    }
    for (int c = 0; c < chunks; c++) {
        for (uint32_t i = 0; i < chunk[c].count; i++) {
            chosen->bucket[chunk[c].placed[i].cell + 1]++;
        }
    }
    for (uint32_t cell = 0; cell < INDEX_CODE_CELLS; cell++) {
        chosen->bucket[cell + 1] += chosen->bucket[cell];
        place[cell] = chosen->bucket[cell];
    }
    for (int c = 0; c < chunks; c++) {
        for (uint32_t i = 0; i < chunk[c].count; i++) {
            chosen->quad[place[chunk[c].placed[i].cell]++] = chunk[c].placed[i].quad;
        }
    }
    for (uint32_t cell = 0; cell < INDEX_CODE_CELLS; cell++) {
        uint32_t first = chosen->bucket[cell];
        qsort(chosen->quad + first, chosen->bucket[cell + 1] - first, sizeof *chosen->quad,
              compare_quads);
    }
    free(place);
    return 0;
}

static int gather(struct chosen_quads *chosen, struct chunk *chunk, int chunks, struct error *err)
{
    uint64_t total = 0;
    for (int c = 0; c < chunks; c++) {
        if (chunk[c].failed) {
            return error_memory(err);
        }
        total += chunk[c].count;
    }
    if (total > INT32_MAX) {
        return error_set(err, ERROR_INPUT, "%llu quads are more than an index can hold",
                         (unsigned long long)total);
    }
    chosen->count = (uint32_t)total;
    return sort_into_cells(chosen, chunk, chunks) ? error_memory(err) : 0;
}

int choose_quads(struct chosen_quads *chosen, const struct index *index, int neighbours, int threads,
                 struct error *err)
{
    int chunks = (int)((index->stars + CHUNK_STARS - 1) / CHUNK_STARS);
    struct chosen_quads made = {0};
    struct job job = {.index = *index, .chunk = calloc((size_t)chunks, sizeof *job.chunk)};
    made.near = malloc((size_t)index->stars * (size_t)neighbours * sizeof *made.near);
    if (!job.chunk || !made.near) {
        free(job.chunk);
        free(made.near);
        return error_memory(err);
    }
    job.near = made.near;
    job.index.near = made.near;
    job.index.neighbours = neighbours;
    parallel_each(chunks, threads, choose_chunk, &job);
    int code = gather(&made, job.chunk, chunks, err);
    for (int c = 0; c < chunks; c++) {
        free(job.chunk[c].placed);
    }
    free(job.chunk);
    if (code) {
        chosen_quads_free(&made);
        return code;
    }
    *chosen = made;
    return 0;
}

void chosen_quads_free(struct chosen_quads *chosen)
{
    free(chosen->near);
    free(chosen->quad);
    free(chosen->bucket);
    *chosen = (struct chosen_quads){0};
}
