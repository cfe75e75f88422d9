/* The rule "an anchor and three of its nearest brighter stars" follows the sky's own scale: quads
 * of bright stars are wide, quads of faint stars are small, and a frame that shows the n brightest
 * stars of its field holds the quads of all of them, whatever its field. */
#include "choose_quads.h"

#include "base/parallel.h"
#include "base/units.h"

#include <math.h>
#include <stdatomic.h>
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

struct job {
    const struct index *index; /* its near is what this job fills or has filled */
    uint32_t *near;            /* to be filled; NULL in the second pass */
    _Atomic uint32_t *counter; /* one a shape cell: quads counted, or the next free place */
    struct index_quad *quad;   /* NULL in the first pass */
};

static void fill_near(const struct job *job, uint32_t anchor)
{
    int wanted = job->index->neighbours;
    struct neighbours n = {.index = job->index, .anchor = anchor, .wanted = wanted};
    uint32_t *near = job->near + (size_t)anchor * (size_t)wanted;
    find_neighbours(&n);
    for (int i = 0; i < wanted; i++) {
        near[i] = i < n.count ? n.star[i] : INDEX_NO_STAR;
    }
}

static void make_quads(const struct job *job, uint32_t anchor)
{
    int neighbours = job->index->neighbours;
    for (int i = 1; i <= neighbours; i++) {
        for (int j = i + 1; j <= neighbours; j++) {
            for (int k = j + 1; k <= neighbours; k++) {
                struct index_quad quad;
                uint32_t cell;
                const int ordinal[3] = {i, j, k};
                if (!index_make_quad(&quad, &cell, job->index, anchor, ordinal)) {
                    continue;
                }
                uint32_t place = atomic_fetch_add(&job->counter[cell], 1);
                if (job->quad) {
                    job->quad[place] = quad;
                }
            }
        }
    }
}

static void do_chunk(int item, void *context)
{
    const struct job *job = context;
    uint32_t first = (uint32_t)item * CHUNK_STARS, stars = job->index->stars;
    uint32_t end = first + CHUNK_STARS < stars ? first + CHUNK_STARS : stars;
    for (uint32_t anchor = first; anchor < end; anchor++) {
        if (job->near) {
            fill_near(job, anchor);
        }
        make_quads(job, anchor);
    }
}

static int chunk_count(const struct index *index)
{
    return (int)((index->stars + CHUNK_STARS - 1) / CHUNK_STARS);
}

int choose_count(uint32_t *near, uint32_t *bucket, const struct index *index, int threads,
                 struct error *err)
{
    struct index seen = *index;
    struct job job = {.index = &seen, .near = near};
    uint64_t total = 0;
    seen.near = near;
    job.counter = calloc(INDEX_SHAPE_CELLS, sizeof *job.counter);
    if (!job.counter) {
        return error_memory(err);
    }
    parallel_each(chunk_count(index), threads, do_chunk, &job);
    for (uint32_t cell = 0; cell < INDEX_SHAPE_CELLS; cell++) {
        bucket[cell] = (uint32_t)total;
        total += job.counter[cell];
    }
    bucket[INDEX_SHAPE_CELLS] = (uint32_t)total;
    free(job.counter);
    if (total > INT32_MAX) {
        return error_set(err, ERROR_INPUT, "%llu quads are more than an index can hold",
                         (unsigned long long)total);
    }
    return 0;
}

static int compare_quads(const void *left, const void *right)
{
    const struct index_quad *a = left, *b = right;
    int c = memcmp(a->shape, b->shape, sizeof a->shape);
    if (c == 0) {
        c = (a->anchor > b->anchor) - (a->anchor < b->anchor);
    }
    return c ? c : (a->members > b->members) - (a->members < b->members);
}

/* The cells that share their first two parts of the shape. */
static void sort_cells(int item, void *context)
{
    const struct job *job = context;
    const uint32_t *bucket = job->index->bucket;
    const uint32_t cells = INDEX_RE_CELLS * INDEX_IM_CELLS;
    for (uint32_t cell = (uint32_t)item * cells; cell < ((uint32_t)item + 1) * cells; cell++) {
        qsort(job->quad + bucket[cell], bucket[cell + 1] - bucket[cell], sizeof *job->quad,
              compare_quads);
    }
}

int choose_place(struct index_quad *quad, const struct index *index, int threads, struct error *err)
{
    struct job job = {.index = index, .quad = quad};
    job.counter = malloc(INDEX_SHAPE_CELLS * sizeof *job.counter);
    if (!job.counter) {
        return error_memory(err);
    }
    for (uint32_t cell = 0; cell < INDEX_SHAPE_CELLS; cell++) {
        atomic_init(&job.counter[cell], index->bucket[cell]);
    }
    parallel_each(chunk_count(index), threads, do_chunk, &job);
    parallel_each(INDEX_RE_CELLS * INDEX_IM_CELLS, threads, sort_cells, &job);
    free(job.counter);
    return 0;
}
