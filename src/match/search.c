#include "match/search.h"

#include "base/units.h"
#include "match/fit.h"
#include "match/quad.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* Steps of match/effort.h for a visit to a cell, with its share of what led there. */
enum { CELL_STEPS = 2 };

enum { MAX_WINDOW_STARS = 160, MAX_NEIGHBOURS = 16, MAX_PROBES = 32, MAX_VISITS = 512 };

/* Windows instead of unprojecting: in the middle 35 % of a picture 40 degrees wide neither the
 * projection nor the lens bends a quad's shape beyond the tolerance. Bright stars first and their
 * nearest neighbours only; more of both when that fails. */
const struct search_stage search_stages[] = {
    {1.00, {0, 0}, 14, 6, 0.006, 0, 0, 0, 0},
    {0.60, {0, 0}, 14, 6, 0.006, 0, 0, 0, 0},
    {0.35, {0, 0}, 14, 6, 0.006, 0, 0, 0, 0},
    {1.00, {0, 0}, 40, 7, 0.006, 14, 6, 0, 0},
    {0.60, {0, 0}, 40, 7, 0.006, 14, 6, 0, 0},
    {0.35, {0, 0}, 30, 7, 0.006, 14, 6, 0, 0},
    {0.20, {0, 0}, 25, 7, 0.008, 0, 0, 0, 0},
    {1.00, {0, 0}, 90, 8, 0.006, 40, 7, 0, 0},
    {0.35, {-.3, -.3}, 25, 7, 0.006, 0, 0, 0, 0},
    {0.35, {0.3, -.3}, 25, 7, 0.006, 0, 0, 0, 0},
    {0.35, {-.3, 0.3}, 25, 7, 0.006, 0, 0, 0, 0},
    {0.35, {0.3, 0.3}, 25, 7, 0.006, 0, 0, 0, 0},
    {0.60, {0, 0}, 80, 10, 0.008, 40, 7, 0, 0},
    {1.00, {0, 0}, 80, 12, 0.006, 80, 8, 0, 0},
    {0.35, {0, 0}, 60, 10, 0.008, 30, 7, 0, 0},
    /* Pieces of wide pictures, up to 27 and up to 45 degrees from the axis. */
    {0.35, {0, 0}, 14, 5, 0.010, 0, 0, 1, 3},
    {0.35, {-.3, 0}, 12, 5, 0.010, 0, 0, 1, 3},
    {0.35, {0.3, 0}, 12, 5, 0.010, 0, 0, 1, 3},
    {0.20, {0, 0}, 12, 5, 0.010, 0, 0, 1, 6},
    {0.35, {0, 0}, 12, 5, 0.010, 0, 0, 4, 9},
    {0.25, {-.3, 0}, 12, 5, 0.010, 0, 0, 4, 9},
    {0.25, {0.3, 0}, 12, 5, 0.010, 0, 0, 4, 9},
    /* With a hint, which leaves few hypotheses, narrow fields full of strangers are worth it. */
    {1.00, {0, 0}, 60, 16, 0.006, 60, 12, 0, 0},
};
const int search_stage_count = sizeof search_stages / sizeof search_stages[0];

/* One shape to be looked up. */
struct probe {
    int shape[4], reach; /* shape_units */
    int rank[4];         /* detections A, B, C, D */
    int hand;
    double tolerance;
    struct pose_axis axis;
    double narrowest, widest; /* diameters that the scale allows, radians */
};

/* One shape cell that a probe has to look into. */
struct visit {
    int probe;
    int part[4];
    uint32_t cell;
};

/* Nearly all of a look-up is waiting for memory, so probes are gathered and all their cells are
 * asked for before the first is read. */
struct queue {
    struct probe probe[MAX_PROBES];
    int probes;
    struct visit visit[MAX_VISITS];
    int visits;
};

struct search {
    struct search_state *state;
    struct queue queue;
    const struct search_stage *stage;
    const struct detections *hand[2];
    const struct index *index;
    const struct search_options *options;
    int star[MAX_WINDOW_STARS]; /* ranks of the window's stars, brightest first */
    int stars;
};

static void pick_window(struct search *s)
{
    const struct detections *list = s->hand[0];
    const struct search_stage *stage = s->stage;
    double half_width = 0.5 * stage->window * list->width;
    double half_height = 0.5 * stage->window * list->height;
    double x = stage->place[0] * list->width, y = stage->place[1] * list->height;
    int limit = stage->stars < MAX_WINDOW_STARS ? stage->stars : MAX_WINDOW_STARS;
    for (int i = 0; i < list->count && s->stars < limit; i++) {
        if (fabs(list->d[i].x - x) <= half_width && fabs(list->d[i].y - y) <= half_height) {
            s->star[s->stars++] = i;
        }
    }
}

/* The anchor's nearest brighter stars of the window, nearest first. */
static int find_neighbours(int neighbour[MAX_NEIGHBOURS], const struct search *s, int anchor)
{
    const struct detection *all = s->hand[0]->d, *a = &all[s->star[anchor]];
    double square[MAX_NEIGHBOURS];
    int count = 0, wanted = s->stage->neighbours;
    for (int i = 0; i < anchor; i++) {
        const struct detection *d = &all[s->star[i]];
        double dx = d->x - a->x, dy = d->y - a->y, q = dx * dx + dy * dy;
        if (count == wanted && q >= square[count - 1]) {
            continue;
        }
        int place = count < wanted ? count++ : count - 1;
        for (; place > 0 && square[place - 1] > q; place--) {
            square[place] = square[place - 1];
            neighbour[place] = neighbour[place - 1];
        }
        square[place] = q;
        neighbour[place] = s->star[i];
    }
    return count;
}

static bool is_far(const struct search *s, uint32_t anchor)
{
    if (s->options->near_cos <= -1) {
        return false;
    }
    double v[3];
    index_star_vector(v, &s->index->star[anchor]);
    return vector_dot(v, s->options->near) < s->options->near_cos;
}

static void spend(struct search *s, long steps)
{
    if (s->options->effort) {
        s->options->effort->spent += steps;
    }
}

/* An accepted hypothesis, or no effort left for another. */
static bool is_over(const struct search *s)
{
    return s->state->accepted ||
           (s->options->effort != NULL && effort_is_spent(s->options->effort));
}

static void try_hypothesis(struct search *s, const struct hypothesis *h, int hand)
{
    struct verdict verdict;
    bool counts = verify_hypothesis(&verdict, h, s->hand[hand], s->index, &s->options->verify);
    spend(s, verdict.steps);
    if (!counts) {
        return;
    }
    struct search_state *state = s->state;
    const struct search_options *options = s->options;
    double tried = log10((double)++state->hypotheses);
    double chance = tried - verdict.log_ratio / log(10);
    if (chance < options->accept_log10) {
        state->accepted = options->confirm(&verdict, hand == 1, options->context);
    }
    if (state->accepted || state->best.pairs == 0 || verdict.log_ratio > state->best.log_ratio) {
        state->best = verdict;
        state->best_mirrored = hand == 1;
    }
    state->chance_log10 = tried - state->best.log_ratio / log(10);
}

/* What is stored of a quad says roughly what its shape is; its stars say it exactly. */
static bool is_alike(const struct index_quad *quad, const struct probe *p)
{
    int sum = 0;
    for (int i = 0; i < 4; i++) {
        int d = quad->shape[i] - p->shape[i];
        if (d > p->reach || -d > p->reach) {
            return false;
        }
        sum += d * d;
    }
    return sum <= p->reach * p->reach && quad->diameter >= p->narrowest &&
           quad->diameter <= p->widest;
}

/* A stretch says along which line the optical axis lies, but not on which side. */
static void try_candidate(struct search *s, uint64_t number, const struct probe *p)
{
    struct hypothesis h = {.tolerance = p->tolerance, .axis = p->axis};
    struct index_quad quad;
    if (!index_numbered_quad(&quad, &h.anchor, s->index, number) || !is_alike(&quad, p) ||
        is_far(s, h.anchor)) {
        return;
    }
    memcpy(h.star, quad.star, sizeof h.star);
    memcpy(h.detection, p->rank, sizeof h.detection);
    try_hypothesis(s, &h, p->hand);
    if (p->axis.angle > 0 && !s->state->accepted) {
        h.axis.direction += PI;
        try_hypothesis(s, &h, p->hand);
    }
}

/* How far a number is from a stretch of an axis. */
static int gap_to(int number, int start, int length)
{
    return number < start             ? start - number
           : number >= start + length ? number - start - length + 1
                                      : 0;
}

enum { MOST_PAIRS = 64 };

/* Squares of the distances from the probe to the steps of a cell, for each pair of steps as it is
 * stored; what no pair is, is far. */
static void measure_pairs(int square[2][MOST_PAIRS], const struct shape_grid *grid,
                          const struct probe *p, const int part[4], int pair_width)
{
    const int steps = grid->steps, length = grid->step_units;
    int axis_square[4][SHAPE_MOST_STEPS];
    for (int axis = 0; axis < 4; axis++) {
        for (int i = 0; i < steps; i++) {
            int gap = gap_to(p->shape[axis], (part[axis] * steps + i) * length, length);
            axis_square[axis][i] = gap * gap;
        }
    }
    for (int half = 0; half < 2; half++) {
        int *out = square[half];
        for (int i = 0; i < steps; i++) {
            for (int k = 0; k < steps; k++) {
                *out++ = axis_square[2 * half][i] + axis_square[2 * half + 1][k];
            }
        }
        while (out < square[half] + ((size_t)1 << pair_width)) {
            *out++ = SHAPE_UNIT * SHAPE_UNIT / 4;
        }
    }
}

static void scan_cell(struct search *s, const struct visit *visit)
{
    const struct probe *p = &s->queue.probe[visit->probe];
    const int farthest = p->reach * p->reach;
    struct index_block block;
    int square[2][MOST_PAIRS];
    if (!index_block_open(&block, s->index, visit->cell)) {
        return;
    }
    measure_pairs(square, &s->index->grid, p, visit->part, block.pair_width);
    for (uint32_t i = 0; i < block.count; i++) {
        uint32_t pair[2];
        index_block_pairs(pair, &block, i);
        if (square[0][pair[0]] + square[1][pair[1]] <= farthest) {
            try_candidate(s, index_block_number(&block, i), p);
            if (is_over(s)) {
                return;
            }
        }
    }
}

static void flush_visits(struct search *s)
{
    struct queue *q = &s->queue;
    spend(s, CELL_STEPS * (long)q->visits);
    for (int i = 0; i < q->visits; i++) {
        uint64_t first = index_block_start(s->index, q->visit[i].cell);
        if (first < s->index->quad_bytes) {
            __builtin_prefetch(s->index->quad + first);
            __builtin_prefetch(s->index->quad + first + 64);
        }
    }
    for (int i = 0; i < q->visits && !is_over(s); i++) {
        scan_cell(s, &q->visit[i]);
    }
    q->visits = 0;
}

static void flush_queue(struct search *s)
{
    flush_visits(s);
    s->queue.probes = 0;
}

static void add_visit(struct search *s, const int part[4])
{
    struct queue *q = &s->queue;
    uint32_t cell = shape_grid_cell(&s->index->grid, part);
    if (q->visits == MAX_VISITS) {
        flush_visits(s);
    }
    if (cell < s->index->grid.cells) {
        struct visit *visit = &q->visit[q->visits++];
        visit->probe = q->probes;
        visit->cell = cell;
        memcpy(visit->part, part, sizeof visit->part);
        __builtin_prefetch(s->index->block +
                           ((uint64_t)cell * (uint64_t)s->index->block_width >> 3));
    }
}

/* Adds visits to the cells that a ball around the probe's shape touches, axis by axis; square is
 * what the axes before took of its radius. */
static void queue_cells(struct search *s, const struct probe *p, int part[4], int axis, int square)
{
    const struct shape_grid *grid = &s->index->grid;
    const int length = grid->steps * grid->step_units;
    if (axis == 4) {
        add_visit(s, part);
        return;
    }
    int high = shape_grid_part(grid, p->shape[axis] + p->reach);
    part[axis] = shape_grid_part(grid, p->shape[axis] - p->reach);
    for (; part[axis] <= high; part[axis]++) {
        int gap = gap_to(p->shape[axis], part[axis] * length, length);
        int sum = square + gap * gap;
        if (sum <= p->reach * p->reach) {
            queue_cells(s, p, part, axis + 1, sum);
        }
    }
}

/* Queues a probe with all its visits. */
static void queue_probe(struct search *s, const struct probe *probe)
{
    struct queue *q = &s->queue;
    int part[4];
    if (q->probes == MAX_PROBES || q->visits > MAX_VISITS / 2) {
        flush_queue(s);
    }
    q->probe[q->probes] = *probe;
    queue_cells(s, &q->probe[q->probes], part, 0, 0);
    q->probes++;
}

/* The scale is that of the optical axis. At an angle t from there a pixel covers less, by cos(t)
 * across and by cos(t)^2 along; lenses add a few percent. */
static void limit_diameters(struct probe *p, const struct search *s, double diameter_px)
{
    const struct verify_options *options = &s->options->verify;
    double low = options->scale_low / ARCSEC_PER_RAD, high = options->scale_high / ARCSEC_PER_RAD;
    double farthest = p->axis.angle + atan(s->hand[0]->half_diagonal * high);
    double least = farthest < 0.45 * PI ? pow(cos(farthest), 2) : 0;
    p->narrowest = 0.85 * least * low * diameter_px;
    p->widest = 1.15 * high * diameter_px;
}

/* Queues the shape of four places in both hands. axis is as seen in the direct hand. */
static void queue_quad(struct search *s, const int member[4], double point[4][2],
                       const struct pose_axis *axis)
{
    double shape[4], diameter;
    int order[4];
    if (!quad_shape(shape, order, &diameter, point) || diameter < 16) {
        return;
    }
    /* Position errors bend the shape of a short quad; distortion and projection that of a long one.
     */
    double tolerance = fmin(0.012, s->stage->tolerance * 0.5 + 3 * s->hand[0]->sigma / diameter);
    tolerance = fmax(tolerance, s->stage->tolerance);
    int hands = s->options->both_hands ? 2 : 1;
    for (int hand = 0; hand < hands; hand++) {
        struct probe p = {.hand = hand, .tolerance = tolerance, .axis = *axis};
        if (hand == 1) {
            quad_mirror(shape, order);
            p.axis.direction = PI - axis->direction;
        }
        for (int i = 0; i < 4; i++) {
            p.shape[i] = shape_units(shape[i]);
            p.rank[i] = member[order[i]];
        }
        p.reach = (int)(tolerance * SHAPE_UNIT);
        limit_diameters(&p, s, diameter);
        s->state->lookups++;
        queue_probe(s, &p);
    }
}

/* Shrinks the places along a direction by a ratio, as the projection had stretched them. */
static void unstretch(double out[4][2], double point[4][2], double direction, double ratio)
{
    double c = cos(direction), d = sin(direction);
    for (int i = 0; i < 4; i++) {
        double along = (c * point[i][0] + d * point[i][1]) * (1 / ratio - 1);
        out[i][0] = point[i][0] + along * c;
        out[i][1] = point[i][1] + along * d;
    }
}

/* At an angle t from the optical axis a gnomonic picture is stretched away from it by 1 / cos(t).
 * Stretches by q along direction d form a plane with polar coordinates m = (q - 1) / (q + 1) and 2
 * d, in which equal steps change a quad's shape about equally; rings of that plane, step apart, are
 * covered evenly. */
static void try_stretches(struct search *s, const int member[4], double point[4][2])
{
    const double step = 0.018;
    for (int ring = s->stage->first_ring; ring <= s->stage->last_ring; ring++) {
        double ratio = (1 + ring * step) / (1 - ring * step);
        int directions = (int)lrint(2 * PI * ring);
        for (int i = 0; i < directions && !is_over(s); i++) {
            struct pose_axis axis = {acos(1 / ratio), PI * (i + 0.5 * (ring % 2)) / directions};
            double round[4][2];
            unstretch(round, point, axis.direction, ratio);
            queue_quad(s, member, round, &axis);
        }
    }
}

static void try_quad(struct search *s, const int member[4])
{
    double point[4][2];
    for (int i = 0; i < 4; i++) {
        point[i][0] = s->hand[0]->d[member[i]].x;
        point[i][1] = s->hand[0]->d[member[i]].y;
    }
    if (s->stage->last_ring > 0) {
        try_stretches(s, member, point);
    } else {
        const struct pose_axis middle = {0, 0};
        queue_quad(s, member, point, &middle);
    }
}

static void try_anchor(struct search *s, int anchor)
{
    int neighbour[MAX_NEIGHBOURS];
    int count = find_neighbours(neighbour, s, anchor);
    int done = anchor < s->stage->done_stars ? s->stage->done_neighbours : 0;
    for (int k = 2; k < count; k++) {
        for (int j = 1; j < k; j++) {
            for (int i = 0; i < j && !is_over(s); i++) {
                if (k >= done) {
                    int member[4] = {s->star[anchor], neighbour[i], neighbour[j], neighbour[k]};
                    try_quad(s, member);
                }
            }
        }
    }
}

/* A picture of few degrees is stretched by nothing: no fit accepts an axis outside of it. */
static bool is_too_narrow(const struct detections *list, const struct verify_options *options)
{
    return list->half_diagonal * options->scale_high / ARCSEC_PER_RAD < FIT_LEAST_WIDE;
}

void search_stage(struct search_state *state, const struct search_stage *stage,
                  const struct detections *direct, const struct detections *mirrored,
                  const struct index *index, const struct search_options *options)
{
    struct search s = {.state = state,
                       .stage = stage,
                       .hand = {direct, mirrored},
                       .index = index,
                       .options = options};
    if (stage->last_ring > 0 && is_too_narrow(direct, &options->verify)) {
        return;
    }
    pick_window(&s);
    for (int anchor = 3; anchor < s.stars && !is_over(&s); anchor++) {
        if (options->most_hypotheses > 0 && state->hypotheses >= options->most_hypotheses) {
            break;
        }
        try_anchor(&s, anchor);
        flush_queue(&s);
    }
}
