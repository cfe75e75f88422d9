/* stars/islands_part.c: cuts islands apart.
 *
 * The pixels of an island come out of the sea from the highest to the lowest. One without a
 * neighbour that is out already is a new summit; one beside a single summit's land joins it; one
 * between two is a pass, at which both stay what they are if both are stars, and else the lower
 * summit's land becomes the higher one's. */
#include "stars/islands.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define CONTRAST 0.005  /* of the island's flux that a star has above a pass */
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
    const struct relief *r;
    uint64_t *order, *spare; /* pixels of an island, the highest first */
    int *land;               /* summit of each pixel in its bounding box and a margin, or -1 */
    struct summit *summit;
    int summits;
    int least_area;
};

/* Levels are positive: their bits are in their order. Highest first, then by the index. */
static uint64_t sort_key(float level, int pixel)
{
    uint32_t bits;
    memcpy(&bits, &level, sizeof bits);
    return (uint64_t)(~bits) << 32 | (uint32_t)pixel;
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

static void sort_pixels(struct parting *p, const int *pixel, int n)
{
    for (int i = 0; i < n; i++) {
        p->order[i] = sort_key(p->r->level[pixel[i]], pixel[i]);
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
 * lesser summits were merged. offset: to its neighbours in the box and in the plane. */
static int join_land(struct parting *p, const int *at, int pixel, const int offset[8],
                     const int in_plane[8], double least_flux)
{
    const float *level = p->r->level + pixel;
    struct summit *s = p->summit;
    int first = -1, from = -1;
    float highest = 0;
    for (int k = 0; k < 8; k++) {
        int land = at[offset[k]];
        if (land < 0) {
            continue;
        }
        if (level[in_plane[k]] > highest) {
            highest = level[in_plane[k]];
            from = land;
        }
        land = settled(s, land);
        if (first < 0 || land == first) {
            first = land;
            continue;
        }
        /* An earlier summit is a higher one. */
        int higher = land < first ? land : first, lower = land < first ? first : land;
        if (!is_star(&s[lower], *level, least_flux, p->least_area) ||
            !is_star(&s[higher], *level, least_flux, p->least_area)) {
            merge(s, higher, lower);
            first = higher;
        }
    }
    return from < 0 ? -1 : settled(s, from);
}

/* Where a pixel is in the box of an island, which has a margin of one pixel. */
static int in_box(const struct island *island, int pixel, int plane_width)
{
    int width = island->right - island->left + 3;
    int x = pixel % plane_width - island->left, y = pixel / plane_width - island->upper;
    return (y + 1) * width + x + 1;
}

static void fill_offsets(int offset[8], int width)
{
    const int around[8] = {-width - 1, -width, -width + 1, -1, 1, width - 1, width, width + 1};
    memcpy(offset, around, sizeof around);
}

static void clear_land(struct parting *p, const int *pixel, const struct island *island)
{
    int offset[8];
    fill_offsets(offset, island->right - island->left + 3);
    for (int i = 0; i < island->pixels; i++) {
        int *at = p->land + in_box(island, pixel[i], p->r->width);
        *at = -1;
        for (int k = 0; k < 8; k++) {
            at[offset[k]] = -1;
        }
    }
}

/* Returns how many summits are stars. */
static int flood(struct parting *p, const int *pixel, const struct island *island)
{
    int offset[8], in_plane[8], width = p->r->width;
    double least_flux = CONTRAST * island->flux;
    fill_offsets(offset, island->right - island->left + 3);
    fill_offsets(in_plane, width);
    clear_land(p, pixel, island);
    sort_pixels(p, pixel, island->pixels);
    p->summits = 0;
    for (int i = 0; i < island->pixels; i++) {
        int highest = (int)(uint32_t)p->order[i], *at = p->land + in_box(island, highest, width);
        float level = p->r->level[highest];
        int land = join_land(p, at, highest, offset, in_plane, least_flux);
        if (land < 0) {
            land = p->summits++;
            p->summit[land] = (struct summit){.into = land, .peak = highest, .height = level};
        }
        p->summit[land].pixels++;
        p->summit[land].flux += (double)level;
        *at = land;
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

/* One island for each summit that is a star, the highest first, each with its pixels in the order
 * they had. */
static void split(struct parted *parted, struct parting *p, int *pixel, const struct island *island)
{
    struct island *part = parted->island + parted->count;
    int parts = 0, *moved = (int *)p->spare;
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
    for (int i = 0; i < island->pixels; i++) {
        int land = settled(p->summit, p->land[in_box(island, pixel[i], p->r->width)]);
        struct island *to = &part[p->summit[land].place];
        moved[to->first - island->first + (size_t)to->pixels++] = pixel[i];
        add_pixel(to, pixel[i], p->r->width);
    }
    memcpy(pixel, moved, (size_t)island->pixels * sizeof *pixel);
    parted->count += (size_t)parts;
}

/* Whether more than one pixel is as high as all around it. */
static bool has_summits(const struct relief *r, const int *pixel, const struct island *island)
{
    int offset[8], summits = 0;
    fill_offsets(offset, r->width);
    bool inside = island->left > 0 && island->upper > 0 && island->right < r->width - 1 &&
                  island->lower < r->height - 1;
    for (int i = 0; inside && i < island->pixels && summits < 2; i++) {
        const float *at = r->level + pixel[i];
        bool top = true;
        for (int k = 0; k < 8 && top; k++) {
            top = *at >= at[offset[k]];
        }
        summits += top;
    }
    return !inside || summits > 1;
}

static bool may_part(const struct relief *r, const int *pixel, const struct island *island,
                     int least_area)
{
    return island->pixels >= 2 * least_area && has_summits(r, pixel, island);
}

/* Room for the largest island that may be parted. */
static int start(struct parting *p, const struct islands *found, const struct relief *r,
                 int least_area, struct error *err)
{
    size_t most = 0, box = 0;
    for (size_t i = 0; i < found->count; i++) {
        const struct island *island = &found->island[i];
        size_t size = (size_t)(island->right - island->left + 3) *
                      (size_t)(island->lower - island->upper + 3);
        most = (size_t)island->pixels > most ? (size_t)island->pixels : most;
        box = size > box ? size : box;
    }
    *p = (struct parting){.r = r, .least_area = least_area};
    p->order = malloc((most + 1) * sizeof *p->order);
    p->spare = malloc((most + 1) * sizeof *p->spare);
    p->summit = malloc((most + 1) * sizeof *p->summit);
    p->land = malloc((box + 1) * sizeof *p->land);
    return p->order && p->spare && p->summit && p->land ? 0 : error_memory(err);
}

static void end(struct parting *p)
{
    free(p->order);
    free(p->spare);
    free(p->summit);
    free(p->land);
}

int islands_part(struct islands *found, const struct relief *r, int least_area, struct error *err)
{
    struct parting p;
    struct parted parted = {0};
    int code = start(&p, found, r, least_area, err);
    for (size_t i = 0; !code && i < found->count; i++) {
        const struct island *island = &found->island[i];
        int *pixel = found->pixel + island->first;
        int stars = may_part(r, pixel, island, least_area) ? flood(&p, pixel, island) : 1;
        if (!make_room(&parted, (size_t)stars)) {
            code = error_memory(err);
        } else if (stars > 1) {
            split(&parted, &p, pixel, island);
        } else {
            parted.island[parted.count++] = *island;
        }
    }
    end(&p);
    if (code) {
        free(parted.island);
        return code;
    }
    free(found->island);
    found->island = parted.island;
    found->count = parted.count;
    return 0;
}
