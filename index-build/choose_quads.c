/* The rule "an anchor and three of its nearest brighter stars" follows the sky's own scale: quads
 * of bright stars are wide, quads of faint stars are small, and a frame that shows the n brightest
 * stars of its field holds the quads of all of them, whatever its field. */
#include "choose_quads.h"

#include "base/units.h"
#include "match/index_layout.h"
#include "match/packed.h"
#include "neighbours.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Chords between two stars of a quad: of 30 degrees and of 20 arcsec. */
static const double widest = 0.51763809020504152, closest = 20 / ARCSEC_PER_RAD;

enum {
    MOST_STARS = INDEX_MAX_NEIGHBOURS + 1,
    MOST_THREES = INDEX_MAX_NEIGHBOURS * (INDEX_MAX_NEIGHBOURS - 1) * (INDEX_MAX_NEIGHBOURS - 2) / 6
};

/* Three of an anchor's neighbours. */
struct three {
    uint32_t number;
    double square; /* of the largest distance between two of the four stars */
};

/* The anchor is number 0, its neighbours follow. */
struct company {
    const struct index *index;
    int stars;
    uint32_t star[MOST_STARS];
    double v[MOST_STARS][3];
    double square[MOST_STARS][MOST_STARS]; /* of the distances between them; 0: too close */
    struct three three[INDEX_MAX_THREES];
    int threes;
    int pair_width, shift; /* index_pair_width, choose_shift */
};

static void measure_company(struct company *c)
{
    for (int i = 0; i < c->stars; i++) {
        index_star_vector(c->v[i], &c->index->star[c->star[i]]);
        for (int j = 0; j < i; j++) {
            double x = c->v[i][0] - c->v[j][0], y = c->v[i][1] - c->v[j][1];
            double z = c->v[i][2] - c->v[j][2], square = x * x + y * y + z * z;
            c->square[j][i] = square >= closest * closest ? square : 0;
        }
    }
}

/* Of distances: the largest and the least. */
struct extent {
    double largest, least;
};

static inline struct extent extend(struct extent e, double square)
{
    e.largest = square > e.largest ? square : e.largest;
    e.least = square < e.least ? square : e.least;
    return e;
}

/* All but those with two stars that are too close or too far apart, in order of their numbers. */
static void list_threes(struct company *c)
{
    static const double most = widest * widest;
    uint32_t number = 0;
    for (int k = 3; k < c->stars; k++) {
        for (int j = 2; j < k; j++) {
            struct extent two = {c->square[0][k], c->square[0][k]};
            two = extend(extend(two, c->square[0][j]), c->square[j][k]);
            for (int i = 1; i < j; i++, number++) {
                struct extent all = extend(two, c->square[0][i]);
                all = extend(extend(all, c->square[i][j]), c->square[i][k]);
                if (all.least > 0 && all.largest < most) {
                    c->three[c->threes++] = (struct three){number, all.largest};
                }
            }
        }
    }
}

/* The width, squared, of the three that is number most by width, of more than most. Bins part them
 * first, so that few have to be put in order. */
static double rank_width(const struct company *c, int most)
{
    enum { BINS = 64 };
    unsigned char bin[INDEX_MAX_THREES];
    int tally[BINS] = {0}, narrower = 0, at = 0, count = 0;
    double largest = 0, within[INDEX_MAX_THREES];
    for (int i = 0; i < c->threes; i++) {
        largest = c->three[i].square > largest ? c->three[i].square : largest;
    }
    const double scale = (BINS - 0.5) / largest;
    for (int i = 0; i < c->threes; i++) {
        bin[i] = (unsigned char)(c->three[i].square * scale);
        tally[bin[i]]++;
    }
    while (narrower + tally[at] < most) {
        narrower += tally[at++];
    }
    for (int i = 0; i < c->threes; i++) {
        if (bin[i] == at) {
            int place = count++;
            for (; place > 0 && within[place - 1] > c->three[i].square; place--) {
                within[place] = within[place - 1];
            }
            within[place] = c->three[i].square;
        }
    }
    return within[most - narrower - 1];
}

/* Keeps the narrowest, which are most often in a picture whole; of equals the first. */
static void choose_narrowest(struct company *c, int most)
{
    if (c->threes <= most) {
        return;
    }
    const double widest_kept = rank_width(c, most);
    int kept = 0, equal = most;
    for (int i = 0; i < c->threes; i++) {
        equal -= c->three[i].square < widest_kept;
    }
    for (int i = 0; i < c->threes; i++) {
        bool keep =
            c->three[i].square < widest_kept || (c->three[i].square == widest_kept && equal-- > 0);
        if (keep) {
            c->three[kept++] = c->three[i];
        }
    }
    c->threes = kept;
}

int choose_shift(const struct index *index)
{
    uint64_t numbers = (uint64_t)index->stars * index->threes;
    return packed_width(numbers - 1) + 2 * index_pair_width(index->grid.steps);
}

static bool make_quad(heap_quad *out, const struct company *c, uint32_t three)
{
    const struct index *index = c->index;
    struct index_quad quad;
    int part[4], step[4], steps = index->grid.steps;
    double direction[4][3];
    uint32_t star[4];
    for (int i = 0; i < 4; i++) {
        int which = i ? index->three[three][i - 1] : 0;
        star[i] = c->star[which];
        memcpy(direction[i], c->v[which], sizeof direction[i]);
    }
    if (!index_shape_quad(&quad, star, direction)) {
        return false;
    }
    shape_grid_split(part, step, &index->grid, quad.shape);
    uint32_t cell = shape_grid_cell(&index->grid, part);
    uint64_t number = (uint64_t)c->star[0] * index->threes + three;
    uint64_t pairs = (uint64_t)(step[2] * steps + step[3]) << c->pair_width |
                     (uint64_t)(step[0] * steps + step[1]);
    *out = (uint64_t)cell << c->shift | number << 2 * c->pair_width | pairs;
    return cell < index->grid.cells;
}

static void choose_anchor(struct chosen *chosen, struct company *c, struct surroundings *around,
                          uint32_t anchor, uint64_t place, int most)
{
    const struct index *index = c->index;
    struct neighbours n;
    neighbours_find(&n, around, anchor);
    for (int i = 0; i < index->neighbours; i++) {
        uint32_t star = i < n.count ? n.star[i] : index->stars;
        packed_put(chosen->near, (place + (uint64_t)i) * (uint64_t)index->near_width, star);
    }
    memcpy(c->star + 1, n.star, (size_t)n.count * sizeof *n.star);
    c->star[0] = anchor;
    c->stars = n.count + 1;
    c->threes = 0;
    measure_company(c);
    list_threes(c);
    choose_narrowest(c, most);
    /* One at least, however few stars there are. */
    if (c->threes > 0 && (chosen->widths == 0 || anchor % (CHOOSE_CHUNK / CHOOSE_WIDTHS) == 0)) {
        int some = (int)(anchor / (CHOOSE_CHUNK / CHOOSE_WIDTHS)) % c->threes;
        chosen->width[chosen->widths++] = sqrt(c->three[some].square);
    }
    for (int i = 0; i < c->threes; i++) {
        chosen->quads += make_quad(&chosen->quad[chosen->quads], c, c->three[i].number);
    }
}

void choose_chunk(struct chosen *chosen, const struct index *index, uint32_t chunk, int most,
                  double share_of_sky)
{
    uint32_t first = chunk * CHOOSE_CHUNK;
    uint32_t stars = index->stars - first < CHOOSE_CHUNK ? index->stars - first : CHOOSE_CHUNK;
    uint64_t neighbours = (uint64_t)index->neighbours;
    struct surroundings around = {.index = index, .share_of_sky = share_of_sky};
    struct company company;
    company.index = index;
    company.pair_width = index_pair_width(index->grid.steps);
    company.shift = choose_shift(index);
    chosen->near_size = packed_size(stars * neighbours, index->near_width) - PACKED_SLACK;
    chosen->near = calloc(1, chosen->near_size + PACKED_SLACK);
    chosen->quad = malloc(((size_t)stars * (size_t)most + 1) * sizeof *chosen->quad);
    chosen->no_memory = !chosen->near || !chosen->quad;
    for (uint32_t i = 0; i < stars && !chosen->no_memory; i++) {
        choose_anchor(chosen, &company, &around, first + i, i * neighbours, most);
        chosen->no_memory = around.no_memory;
    }
    surroundings_free(&around);
}

void chosen_free(struct chosen *chosen)
{
    free(chosen->near);
    free(chosen->quad);
    *chosen = (struct chosen){0};
}
