/* stars/islands_part.c: cuts islands apart.
 *
 * The pixels of an island come out of the sea from the highest to the lowest. One without a
 * neighbour that is out already is a new summit; one beside a single summit's land joins it; one
 * between two is a pass, at which both stay what they are if both are stars, and else the lower
 * summit's land becomes the higher one's. */
#include "stars/islands.h"

#include "base/parallel.h"

#include <limits.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define CONTRAST 0.001  /* of the island's flux that a star has above a pass */
#define STANDS_OUT 1.0F /* noises from the pass to its summit */
#define STEP 0.03F      /* the same as a share of the summit's height */

/* A summit and its land. */
struct summit {
    int into; /* the summit that it was merged into; itself if it was not */
    int peak;
    int pixels;
    int place; /* in the list of islands, once they are settled */
    float height;
    double flux;
};

struct parting {
    int width;               /* of the plane */
    uint64_t *order, *spare; /* levels of an island's pixels and their numbers, the highest first */
    int *rank;               /* place in the order of each pixel in the island's box, or -1 */
    int *land;               /* summit of each pixel in the order */
    int *place;              /* in the box of each pixel as it is listed */
    struct summit *summit;
    int summits;
    int least_area;
};

/* Levels are positive: their bits are in their order. Highest first, then by the number. */
static uint64_t sort_key(float level, int number)
{
    uint32_t bits;
    memcpy(&bits, &level, sizeof bits);
    return (uint64_t)(~bits) << 32 | (uint32_t)number;
}

static int number_of(uint64_t key)
{
    return (int)(uint32_t)key;
}

static void insertion_sort(uint64_t *key, int n)
{
    for (int i = 1; i < n; i++) {
        uint64_t moving = key[i];
        int k = i;
        for (; k > 0 && key[k - 1] > moving; k--) {
            key[k] = key[k - 1];
        }
        key[k] = moving;
    }
}

/* By the upper half of the keys; what is equal there stays in its order. */
static void radix_sort(uint64_t *key, uint64_t *spare, int n)
{
    for (int shift = 32; shift < 64; shift += 8) {
        int start[257] = {0};
        for (int i = 0; i < n; i++) {
            start[(key[i] >> shift & 255) + 1]++;
        }
        for (int k = 0; k < 256; k++) {
            start[k + 1] += start[k];
        }
        for (int i = 0; i < n; i++) {
            spare[start[key[i] >> shift & 255]++] = key[i];
        }
        uint64_t *sorted = spare;
        spare = key;
        key = sorted;
    }
}

enum { FEW = 48 };

static void sort_pixels(struct parting *p, const float *level, int n)
{
    for (int i = 0; i < n; i++) {
        p->order[i] = sort_key(level[i], i);
    }
    if (n < FEW) {
        insertion_sort(p->order, n);
    } else {
        radix_sort(p->order, p->spare, n);
    }
}

static int settled(struct summit *summit, int i)
{
    while (summit[i].into != i) {
        summit[i].into = summit[summit[i].into].into;
        i = summit[i].into;
    }
    return i;
}

static bool is_star(const struct summit *s, float pass, double least_flux, int least_area)
{
    float above = s->height - pass;
    return s->pixels >= least_area && above > STANDS_OUT && above > STEP * s->height &&
           s->flux - (double)pass * s->pixels > least_flux;
}

static void merge(struct summit *summit, int higher, int lower)
{
    summit[lower].into = higher;
    summit[higher].pixels += summit[lower].pixels;
    summit[higher].flux += summit[lower].flux;
}

/* The land that a pixel joins, or -1 if none is near: its highest neighbour's, after those of
 * lesser summits were merged. rank: where the pixel is in the box; offset: to its neighbours. */
static int join_land(struct parting *p, const int *rank, const int offset[8], float level,
                     double least_flux)
{
    struct summit *s = p->summit;
    int first = -1, highest = INT_MAX;
    for (int k = 0; k < 8; k++) {
        int near = rank[offset[k]];
        if (near < 0) {
            continue;
        }
        highest = near < highest ? near : highest;
        int land = settled(s, p->land[near]);
        if (first < 0 || land == first) {
            first = land;
            continue;
        }
        /* An earlier summit is a higher one. */
        int higher = land < first ? land : first, lower = land < first ? first : land;
        if (!is_star(&s[lower], level, least_flux, p->least_area) ||
            !is_star(&s[higher], level, least_flux, p->least_area)) {
            merge(s, higher, lower);
            first = higher;
        }
    }
    return first < 0 ? -1 : settled(s, p->land[highest]);
}

/* Where the pixels of an island are in its box, which has a margin of one pixel. They are listed
 * row by row. */
static void find_places(struct parting *p, const int *pixel, const struct island *island)
{
    int width = island->right - island->left + 3;
    int start = island->upper * p->width + island->left, row = width + 1;
    for (int i = 0; i < island->pixels; i++) {
        while (pixel[i] - start >= p->width - island->left) {
            start += p->width;
            row += width;
        }
        p->place[i] = row + pixel[i] - start;
    }
}

static void fill_offsets(int offset[8], int width)
{
    const int around[8] = {-width - 1, -width, -width + 1, -1, 1, width - 1, width, width + 1};
    memcpy(offset, around, sizeof around);
}

static void clear_ranks(struct parting *p, const struct island *island)
{
    int offset[8];
    fill_offsets(offset, island->right - island->left + 3);
    for (int i = 0; i < island->pixels; i++) {
        int *at = p->rank + p->place[i];
        *at = -1;
        for (int k = 0; k < 8; k++) {
            at[offset[k]] = -1;
        }
    }
}

/* Returns how many summits are stars. */
static int flood(struct parting *p, const int *pixel, const float *level,
                 const struct island *island)
{
    int offset[8];
    double least_flux = CONTRAST * island->flux;
    fill_offsets(offset, island->right - island->left + 3);
    find_places(p, pixel, island);
    clear_ranks(p, island);
    sort_pixels(p, level, island->pixels);
    p->summits = 0;
    for (int i = 0; i < island->pixels; i++) {
        int number = number_of(p->order[i]);
        int *at = p->rank + p->place[number];
        int land = join_land(p, at, offset, level[number], least_flux);
        if (land < 0) {
            land = p->summits++;
            p->summit[land] =
                (struct summit){.into = land, .peak = pixel[number], .height = level[number]};
        }
        p->summit[land].pixels++;
        p->summit[land].flux += (double)level[number];
        p->land[i] = land;
        *at = i;
    }
    int stars = 0;
    for (int i = 0; i < p->summits; i++) {
        stars += p->summit[i].into == i;
    }
    return stars;
}

/* The islands that come out, and room for more. */
struct parted {
    struct island *island;
    size_t count, capacity;
};

static bool make_room(struct parted *parted, size_t more)
{
    if (parted->count + more > parted->capacity) {
        size_t capacity = 2 * (parted->count + more) + 1024;
        struct island *grown = realloc(parted->island, capacity * sizeof *grown);
        if (!grown) {
            return false;
        }
        parted->island = grown;
        parted->capacity = capacity;
    }
    return true;
}

static void add_pixel(struct island *part, int pixel, int width)
{
    int x = pixel % width, y = pixel / width;
    part->left = x < part->left ? x : part->left;
    part->right = x > part->right ? x : part->right;
    part->upper = y < part->upper ? y : part->upper;
    part->lower = y > part->lower ? y : part->lower;
}

/* One island for each summit that is a star, the highest first, without its pixels. Returns how
 * many. */
static int start_parts(struct island *part, struct parting *p, const struct island *island)
{
    int parts = 0;
    size_t first = island->first;
    for (int i = 0; i < p->summits; i++) {
        struct summit *s = &p->summit[i];
        if (s->into == i) {
            s->place = parts;
            part[parts++] = (struct island){.first = first,
                                            .left = island->right,
                                            .right = island->left,
                                            .upper = island->lower,
                                            .lower = island->upper,
                                            .peak = s->peak,
                                            .height = s->height,
                                            .flux = s->flux,
                                            .merged = true};
            first += (size_t)s->pixels;
        }
    }
    return parts;
}

/* Deals an island's pixels out to its parts, in the order they had. */
static void split(struct parted *parted, struct parting *p, int *pixel, float *level,
                  const struct island *island)
{
    struct island *part = parted->island + parted->count;
    int parts = start_parts(part, p, island), n = island->pixels;
    /* What is a number in the order becomes a pixel and its level, in another one. */
    int *moved = (int *)p->order, *moved_bits = moved + n;
    for (int i = 0; i < n; i++) {
        int rank = p->rank[p->place[i]];
        struct island *to = &part[p->summit[settled(p->summit, p->land[rank])].place];
        size_t at = to->first - island->first + (size_t)to->pixels++;
        moved[at] = pixel[i];
        memcpy(&moved_bits[at], &level[i], sizeof *level);
        add_pixel(to, pixel[i], p->width);
    }
    memcpy(pixel, moved, (size_t)n * sizeof *pixel);
    memcpy(level, moved_bits, (size_t)n * sizeof *level);
    parted->count += (size_t)parts;
}

/* Room for the largest of some islands. */
static bool start(struct parting *p, const struct island *island, size_t islands, int width,
                  int least_area)
{
    size_t most = 0, box = 0;
    for (size_t i = 0; i < islands; i++) {
        size_t size = (size_t)(island[i].right - island[i].left + 3) *
                      (size_t)(island[i].lower - island[i].upper + 3);
        most = (size_t)island[i].pixels > most ? (size_t)island[i].pixels : most;
        box = size > box ? size : box;
    }
    *p = (struct parting){.width = width, .least_area = least_area};
    p->order = malloc((most + 1) * sizeof *p->order);
    p->spare = malloc((most + 1) * sizeof *p->spare);
    p->land = malloc((most + 1) * sizeof *p->land);
    p->place = malloc((most + 1) * sizeof *p->place);
    p->summit = malloc((most + 1) * sizeof *p->summit);
    p->rank = malloc((box + 1) * sizeof *p->rank);
    return p->order && p->spare && p->land && p->place && p->summit && p->rank;
}

static void end(struct parting *p)
{
    free(p->order);
    free(p->spare);
    free(p->land);
    free(p->place);
    free(p->summit);
    free(p->rank);
}

/* Islands in batches, side by side: each has a list of its own. */
enum { BATCH = 256 };

struct cutting {
    struct islands *found;
    int width, least_area;
    struct parted *batch;
    atomic_bool failed;
};

static bool part_island(struct parted *parted, struct parting *p, const struct islands *found,
                        const struct island *island)
{
    int *pixel = found->pixel + island->first;
    float *level = found->level + island->first;
    int stars = island->pixels >= 2 * p->least_area ? flood(p, pixel, level, island) : 1;
    if (!make_room(parted, (size_t)stars)) {
        return false;
    }
    if (stars > 1) {
        split(parted, p, pixel, level, island);
    } else {
        parted->island[parted->count++] = *island;
    }
    return true;
}

static void part_batch(int item, void *context)
{
    struct cutting *c = context;
    struct parting p;
    size_t first = (size_t)item * BATCH, rest = c->found->count - first;
    size_t n = rest < BATCH ? rest : BATCH;
    const struct island *island = c->found->island + first;
    bool good = start(&p, island, n, c->width, c->least_area);
    for (size_t i = 0; good && i < n; i++) {
        good = part_island(&c->batch[item], &p, c->found, &island[i]);
    }
    end(&p);
    if (!good) {
        atomic_store(&c->failed, true);
    }
}

/* All batches one after the other. NULL if there is no memory. */
static struct island *append(size_t *count, const struct parted *batch, int batches)
{
    *count = 0;
    for (int i = 0; i < batches; i++) {
        *count += batch[i].count;
    }
    struct island *all = malloc((*count + 1) * sizeof *all);
    for (size_t i = 0, at = 0; all && i < (size_t)batches; i++) {
        if (batch[i].count > 0) {
            memcpy(all + at, batch[i].island, batch[i].count * sizeof *all);
            at += batch[i].count;
        }
    }
    return all;
}

int islands_part(struct islands *found, int plane_width, int least_area, int threads,
                 struct error *err)
{
    int batches = (int)((found->count + BATCH - 1) / BATCH);
    struct cutting c = {.found = found, .width = plane_width, .least_area = least_area};
    struct island *all = NULL;
    size_t count = 0;
    c.batch = calloc((size_t)batches + 1, sizeof *c.batch);
    atomic_init(&c.failed, c.batch == NULL);
    if (c.batch) {
        parallel_each(batches, threads, part_batch, &c);
        all = atomic_load(&c.failed) ? NULL : append(&count, c.batch, batches);
    }
    for (int i = 0; c.batch && i < batches; i++) {
        free(c.batch[i].island);
    }
    free(c.batch);
    if (!all) {
        return error_memory(err);
    }
    free(found->island);
    found->island = all;
    found->count = count;
    return 0;
}
