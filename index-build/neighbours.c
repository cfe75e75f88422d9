#include "neighbours.h"

#include "base/units.h"

#include <math.h>
#include <stdlib.h>

/* Neighbours farther than this cannot be in a quad that is narrow enough. */
static const double farthest = 20 * RAD_PER_DEG;
/* What rounding may take from an angle, radians. */
static const double margin = 1e-9;

static bool is_brighter(const struct index *index, uint32_t star, uint32_t than)
{
    int a = index->star[star].mag, b = index->star[than].mag;
    return a < b || (a == b && star < than);
}

static double dot_of(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static inline void consider(struct neighbours *n, uint32_t star, const double v[3])
{
    double dot = dot_of(v, n->centre);
    if (dot < n->cos_radius || (n->count == n->wanted && dot <= n->dot[n->count - 1]) ||
        !is_brighter(n->index, star, n->anchor)) {
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
    struct neighbours *n = context;
    for (uint32_t star = first; star < end; star++) {
        double v[3];
        index_star_vector(v, &n->index->star[star]);
        consider(n, star, v);
    }
}

static void gather_run(uint32_t first, uint32_t end, void *context)
{
    struct surroundings *around = context;
    if (around->count + (end - first) > around->room) {
        size_t room = 2 * (around->count + (end - first));
        uint32_t *star = realloc(around->star, room * sizeof *star);
        around->star = star ? star : around->star;
        double(*v)[3] = realloc(around->v, room * sizeof *v);
        around->v = v ? v : around->v;
        if (!star || !v) {
            around->no_memory = true;
            return;
        }
        around->room = room;
    }
    for (uint32_t star = first; star < end; star++) {
        double *v = around->v[around->count];
        index_star_vector(v, &around->index->star[star]);
        if (dot_of(v, around->centre) >= around->cos_reach) {
            around->star[around->count++] = star;
        }
    }
}

/* The last record from low to before high that begins no later than at a star or, with parts, whose
 * parts begin no later than at a record. */
static uint32_t last_record(const struct index *index, uint32_t low, uint32_t high, bool parts,
                            uint32_t number)
{
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        const struct index_cell *cell = &index->cell[middle];
        if ((parts ? cell->first_part : cell->first_star) <= number) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return low;
}

/* Which stars share surroundings: those of the four cells of one level that make one of the level
 * above, of which the faintest level has few each. */
static void choose_stars(struct surroundings *around, uint32_t anchor)
{
    const struct index *index = around->index;
    const struct index_cell *cell = index->cell;
    uint32_t from = last_record(index, 0, index->level[index->levels], false, anchor),
             to = from + 1;
    int level = 0;
    while (from >= index->level[level + 1]) {
        level++;
    }
    if (level > 0) {
        uint32_t whole =
            last_record(index, index->level[level - 1], index->level[level], true, from);
        from = cell[whole].first_part;
        to = whole + 1 < index->level[level] ? cell[whole + 1].first_part : index->level[level + 1];
    }
    around->level = level;
    around->first = cell[from].first_star;
    around->end = cell[to].first_star;
}

/* Their middle, and how far the farthest is from there. */
static double find_middle(double centre[3], const struct index *index, uint32_t first, uint32_t end)
{
    double v[3], most = 0, length;
    centre[0] = centre[1] = centre[2] = 0;
    for (uint32_t star = first; star < end; star++) {
        index_star_vector(v, &index->star[star]);
        for (int axis = 0; axis < 3; axis++) {
            centre[axis] += v[axis];
        }
    }
    length = sqrt(dot_of(centre, centre));
    for (int axis = 0; axis < 3; axis++) {
        centre[axis] /= length;
    }
    for (uint32_t star = first; star < end; star++) {
        index_star_vector(v, &index->star[star]);
        const double off[3] = {v[0] - centre[0], v[1] - centre[1], v[2] - centre[2]};
        most = fmax(most, dot_of(off, off));
    }
    return 2 * asin(fmin(sqrt(most) / 2, 1)) + margin;
}

/* Makes the surroundings of an anchor and its like. */
static void gather(struct surroundings *around, uint32_t anchor)
{
    const struct index *index = around->index;
    choose_stars(around, anchor);
    double brighter = index->cell[index->level[around->level]].first_star + 8.0;
    around->radius =
        fmin(2.4 * sqrt(index->neighbours * around->share_of_sky / brighter), farthest);
    double reach =
        around->radius + find_middle(around->centre, index, around->first, around->end) + margin;
    around->cos_reach = cos(fmin(reach, PI));
    around->count = 0;
    index_visit_levels(index, 0, around->level, around->centre, reach, gather_run, around);
}

void neighbours_find(struct neighbours *n, struct surroundings *around, uint32_t anchor)
{
    const struct index *index = around->index;
    if (anchor < around->first || anchor >= around->end) {
        gather(around, anchor);
    }
    double radius = around->radius;
    *n = (struct neighbours){.index = index, .anchor = anchor, .wanted = index->neighbours};
    index_star_vector(n->centre, &index->star[anchor]);
    n->cos_radius = cos(radius);
    for (size_t i = 0; i < around->count; i++) {
        consider(n, around->star[i], around->v[i]);
    }
    /* Widens the disc until enough brighter stars lie in it. */
    while (n->count < n->wanted && radius < farthest) {
        radius = fmin(1.6 * radius, farthest);
        n->count = 0;
        n->cos_radius = cos(radius);
        index_visit_levels(index, 0, around->level, n->centre, radius, consider_run, n);
    }
}

void surroundings_free(struct surroundings *around)
{
    free(around->star);
    free(around->v);
    *around = (struct surroundings){0};
}
