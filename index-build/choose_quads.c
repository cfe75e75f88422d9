/* The rule "an anchor and three of its nearest brighter stars" follows the sky's own scale: quads
 * of bright stars are wide, quads of faint stars are small, and a frame that shows the n brightest
 * stars of its field holds the quads of all of them, whatever its field. */
#include "choose_quads.h"

#include "base/units.h"
#include "match/index_layout.h"
#include "match/packed.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Neighbours farther than this cannot be in a quad that is narrow enough. */
static const double farthest = 20 * RAD_PER_DEG;
/* Chords between two stars of a quad: of 30 degrees and of 20 arcsec. */
static const double widest = 0.51763809020504152, closest = 20 / ARCSEC_PER_RAD;

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

/* The level of a star; levels follow each other in the order of stars. */
static int level_of_star(const struct index *index, uint32_t star)
{
    int level = 0;
    while (level < index->levels - 1 && star >= index->cell[index->level[level + 1]].first_star) {
        level++;
    }
    return level;
}

/* Widens the disc until enough brighter stars lie in it. */
static void find_neighbours(struct neighbours *n, double share_of_sky)
{
    int level = level_of_star(n->index, n->anchor);
    double brighter = n->index->cell[n->index->level[level]].first_star + 8.0;
    double radius = fmin(2.4 * sqrt(n->wanted * share_of_sky / brighter), farthest);
    index_star_vector(n->centre, &n->index->star[n->anchor]);
    for (;;) {
        n->count = 0;
        n->cos_radius = cos(radius);
        index_visit_levels(n->index, 0, level, n->centre, radius, consider_run, n);
        if (n->count == n->wanted || radius >= farthest) {
            return;
        }
        radius = fmin(1.6 * radius, farthest);
    }
}

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
    double square[MOST_STARS][MOST_STARS]; /* of the distances between them; 0: too close */
    struct three three[INDEX_MAX_THREES];
    int threes;
};

static void measure_company(struct company *c)
{
    double v[MOST_STARS][3];
    for (int i = 0; i < c->stars; i++) {
        index_star_vector(v[i], &c->index->star[c->star[i]]);
        for (int j = 0; j < i; j++) {
            double x = v[i][0] - v[j][0], y = v[i][1] - v[j][1], z = v[i][2] - v[j][2];
            double square = x * x + y * y + z * z;
            c->square[j][i] = square >= closest * closest ? square : 0;
        }
    }
}

/* The largest of the six distances; 0 if two of the four are too close or too far apart. */
static double largest_square(const struct company *c, int i, int j, int k)
{
    static const double most = widest * widest;
    const double square[6] = {c->square[0][i], c->square[0][j], c->square[0][k],
                              c->square[i][j], c->square[i][k], c->square[j][k]};
    double largest = 0, least = 5;
    for (int n = 0; n < 6; n++) {
        largest = square[n] > largest ? square[n] : largest;
        least = square[n] < least ? square[n] : least;
    }
    return least > 0 && largest < most ? largest : 0;
}

static void list_threes(struct company *c)
{
    for (int k = 3; k < c->stars; k++) {
        for (int j = 2; j < k; j++) {
            for (int i = 1; i < j; i++) {
                const int ordinal[3] = {i, j, k};
                double square = largest_square(c, i, j, k);
                if (square > 0) {
                    c->three[c->threes++] = (struct three){index_three_number(ordinal), square};
                }
            }
        }
    }
}

/* Keeps the narrowest, which are most often in a picture whole: those below the width that most of
 * them have, found by putting them in order as far as it matters; of equals the first. */
static void choose_narrowest(struct company *c, int most)
{
    double narrow[INDEX_MAX_THREES];
    int count = 0, kept = 0, equal = most;
    for (int i = 0; i < c->threes; i++) {
        double square = c->three[i].square;
        if (count == most && square >= narrow[count - 1]) {
            continue;
        }
        int place = count < most ? count++ : count - 1;
        for (; place > 0 && narrow[place - 1] > square; place--) {
            narrow[place] = narrow[place - 1];
        }
        narrow[place] = square;
    }
    if (c->threes <= most) {
        return;
    }
    const double widest_kept = narrow[most - 1];
    for (int i = 0; i < most; i++) {
        equal -= narrow[i] < widest_kept;
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
    const unsigned char *ordinal = index->three[three];
    const uint32_t star[4] = {c->star[0], c->star[ordinal[0]], c->star[ordinal[1]],
                              c->star[ordinal[2]]};
    if (!index_make_quad(&quad, index, star)) {
        return false;
    }
    shape_grid_split(part, step, &index->grid, quad.shape);
    uint32_t cell = shape_grid_cell(&index->grid, part);
    uint64_t number = (uint64_t)c->star[0] * index->threes + three;
    uint64_t pairs = (uint64_t)(step[2] * steps + step[3]) << index_pair_width(steps) |
                     (uint64_t)(step[0] * steps + step[1]);
    *out = (uint64_t)cell << choose_shift(index) | number << 2 * index_pair_width(steps) | pairs;
    return cell < index->grid.cells;
}

static void choose_anchor(struct chosen *chosen, const struct index *index, uint32_t anchor,
                          uint64_t place, int most, double share_of_sky)
{
    struct neighbours n = {.index = index, .anchor = anchor, .wanted = index->neighbours};
    struct company company = {.index = index, .star = {anchor}};
    find_neighbours(&n, share_of_sky);
    for (int i = 0; i < index->neighbours; i++) {
        uint32_t star = i < n.count ? n.star[i] : index->stars;
        packed_put(chosen->near, (place + (uint64_t)i) * (uint64_t)index->near_width, star);
    }
    memcpy(company.star + 1, n.star, (size_t)n.count * sizeof *n.star);
    company.stars = n.count + 1;
    measure_company(&company);
    list_threes(&company);
    choose_narrowest(&company, most);
    if (company.threes > 0 && anchor % (CHOOSE_CHUNK / CHOOSE_WIDTHS) == 0) {
        int some = (int)(anchor / (CHOOSE_CHUNK / CHOOSE_WIDTHS)) % company.threes;
        chosen->width[chosen->widths++] = sqrt(company.three[some].square);
    }
    for (int i = 0; i < company.threes; i++) {
        chosen->quads += make_quad(&chosen->quad[chosen->quads], &company, company.three[i].number);
    }
}

void choose_chunk(struct chosen *chosen, const struct index *index, uint32_t chunk, int most,
                  double share_of_sky)
{
    uint32_t first = chunk * CHOOSE_CHUNK;
    uint32_t stars = index->stars - first < CHOOSE_CHUNK ? index->stars - first : CHOOSE_CHUNK;
    uint64_t neighbours = (uint64_t)index->neighbours;
    chosen->near_size = packed_size(stars * neighbours, index->near_width) - PACKED_SLACK;
    chosen->near = calloc(1, chosen->near_size + PACKED_SLACK);
    chosen->quad = malloc(((size_t)stars * (size_t)most + 1) * sizeof *chosen->quad);
    chosen->no_memory = !chosen->near || !chosen->quad;
    for (uint32_t i = 0; i < stars && !chosen->no_memory; i++) {
        choose_anchor(chosen, index, first + i, i * neighbours, most, share_of_sky);
    }
}

void chosen_free(struct chosen *chosen)
{
    free(chosen->near);
    free(chosen->quad);
    *chosen = (struct chosen){0};
}
