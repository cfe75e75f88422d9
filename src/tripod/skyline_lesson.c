#include "tripod/skyline_lesson.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { NODES = 180, LEVELS = 181 };

static const double node_deg = 2, level_deg = 0.5;

/* How probable it is that a star shows in front of a roof, and by what a change of altitude makes a
 * line less probable: the logarithm of it, by a degree. */
static const double seen_before_roof = 0.01, change_deg = 0.7;

/* So far above what hides the sky stars are lost to the finder, whose own sky is uneven there. */
static const double beside_deg = 2.0;

/* A line less probable than the best one by this is no less so: two stars that contradict each
 * other are not to leave none. */
static const double least_chance = 1e-30;

/* What bounds a node: stars within so many degrees of azimuth, not farther from the line than this.
 */
static const double near_azimuth_deg = 4, near_altitude_deg = 10;
enum { LEAST_HIDDEN = 2, LEAST_SEEN = 2 };

/* A free horizon must be less probable by this factor. */
static const double least_evidence = 20;

/* The line may be off by this where points are left out. */
static const double simple_deg = 0.2;

struct work {
    struct skyline_star *star; /* in the order of azimuths, 0 to 360 */
    int stars;
    int first[NODES + 1]; /* star of each piece between two nodes */
    float piece[NODES][LEVELS]
               [LEVELS];          /* how probable, from a level on its left to one on its right */
    double chance[NODES][LEVELS]; /* of all lines through a level of a node, together */
    double side[LEVELS], stepped[LEVELS]; /* by what is on one side of it alone */
    double altitude_deg[NODES];
    bool known[NODES];
};

static double wrap(double azimuth_deg)
{
    double wrapped = azimuth_deg - 360 * floor(azimuth_deg / 360);
    return wrapped < 360 ? wrapped : 0;
}

static int by_azimuth(const void *a, const void *b)
{
    double x = ((const struct skyline_star *)a)->azimuth_deg;
    double y = ((const struct skyline_star *)b)->azimuth_deg;
    return (x > y) - (x < y);
}

static int work_make(struct work *work, const struct skyline_star *star, int stars,
                     struct error *err)
{
    memset(work, 0, sizeof *work);
    work->star = malloc(((size_t)stars + 1) * sizeof *star);
    if (!work->star) {
        return error_memory(err);
    }
    for (int i = 0; i < stars; i++) {
        work->star[i] = star[i];
        work->star[i].azimuth_deg = wrap(star[i].azimuth_deg);
    }
    work->stars = stars;
    qsort(work->star, (size_t)stars, sizeof *star, by_azimuth);
    for (int piece = 0, i = 0; piece <= NODES; piece++) {
        while (i < stars && work->star[i].azimuth_deg < piece * node_deg) {
            i++;
        }
        work->first[piece] = i;
    }
    return 0;
}

/* How probable it is that a star so far above the line is not seen. */
static double chance_missed(const struct skyline_star *star, double above_deg)
{
    double open = fmin(above_deg / beside_deg, 1);
    return 1 - (star->share_beside + open * (star->share - star->share_beside));
}

/* The logarithm of how probable a piece of line makes its stars, between levels of its nodes. */
static double piece_evidence(const struct work *work, int piece, int left, int right)
{
    double sum = -change_deg * level_deg * abs(right - left);
    for (int i = work->first[piece]; i < work->first[piece + 1]; i++) {
        const struct skyline_star *star = &work->star[i];
        double part = star->azimuth_deg / node_deg - piece;
        double above_deg = star->altitude_deg - level_deg * (left + part * (right - left));
        if (above_deg <= 0) {
            sum += star->seen ? log(seen_before_roof) : 0;
        } else if (!star->seen) {
            sum += log(chance_missed(star, above_deg));
        }
    }
    return sum;
}

static void weigh_piece(struct work *work, int piece)
{
    static const double none = -1e30;
    double best = none;
    for (int left = 0; left < LEVELS; left++) {
        for (int right = 0; right < LEVELS; right++) {
            double evidence = piece_evidence(work, piece, left, right);
            work->piece[piece][left][right] = (float)evidence;
            best = fmax(best, evidence);
        }
    }
    for (int left = 0; left < LEVELS; left++) {
        for (int right = 0; right < LEVELS; right++) {
            float *chance = &work->piece[piece][left][right];
            *chance = (float)fmax(exp(*chance - best), least_chance);
        }
    }
}

/* Carries what one side says over a piece; the largest of it is 1 then. */
static void step_over(struct work *work, int piece, bool rightwards)
{
    double most = 0;
    memset(work->stepped, 0, sizeof work->stepped);
    for (int left = 0; left < LEVELS; left++) {
        const float *chance = work->piece[piece][left];
        for (int right = 0; right < LEVELS; right++) {
            work->stepped[rightwards ? right : left] +=
                work->side[rightwards ? left : right] * (double)chance[right];
        }
    }
    for (int k = 0; k < LEVELS; k++) {
        most = fmax(most, work->stepped[k]);
    }
    for (int k = 0; k < LEVELS; k++) {
        work->side[k] = work->stepped[k] / most;
    }
}

/* Once and a half around, so that it is forgotten where that began. */
static void add_side(struct work *work, bool rightwards)
{
    for (int k = 0; k < LEVELS; k++) {
        work->side[k] = 1;
    }
    for (int i = 0; i < NODES + NODES / 2; i++) {
        int piece = rightwards ? i % NODES : NODES - 1 - i % NODES;
        int node = rightwards ? (piece + 1) % NODES : piece;
        step_over(work, piece, rightwards);
        for (int k = 0; i >= NODES / 2 && k < LEVELS; k++) {
            work->chance[node][k] *= work->side[k];
        }
    }
}

static void weigh_levels(struct work *work)
{
    for (int node = 0; node < NODES; node++) {
        weigh_piece(work, node);
        for (int k = 0; k < LEVELS; k++) {
            work->chance[node][k] = 1;
        }
    }
    add_side(work, true);
    add_side(work, false);
}

/* The mean of all levels as they are probable; returns their deviation. */
static double choose_level(struct work *work, int node)
{
    const double *chance = work->chance[node];
    double sum = 0, first = 0, second = 0;
    for (int k = 0; k < LEVELS; k++) {
        sum += chance[k];
        first += chance[k] * k;
        second += chance[k] * k * k;
    }
    double mean = first / sum;
    work->altitude_deg[node] = level_deg * mean;
    return level_deg * sqrt(fmax(second / sum - mean * mean, 1.0 / 12));
}

/* Whether stars on both sides of the line hold it there. */
static bool is_bounded(const struct work *work, int node)
{
    const double *chance = work->chance[node];
    int level = (int)lround(work->altitude_deg[node] / level_deg), hidden = 0, seen = 0;
    if (chance[0] * least_evidence > chance[level]) {
        return false;
    }
    for (int i = 0; i < work->stars; i++) {
        const struct skyline_star *star = &work->star[i];
        double aside_deg = fabs(remainder(star->azimuth_deg - node * node_deg, 360));
        double above_deg = star->altitude_deg - work->altitude_deg[node];
        if (aside_deg < near_azimuth_deg && fabs(above_deg) < near_altitude_deg) {
            hidden += !star->seen && above_deg < 0;
            seen += star->seen && above_deg > 0;
        }
    }
    return hidden >= LEAST_HIDDEN && seen >= LEAST_SEEN;
}

static void find_nodes(struct skyline_lesson *lesson, struct work *work)
{
    double square = 0;
    int known = 0;
    weigh_levels(work);
    for (int node = 0; node < NODES; node++) {
        double error_deg = choose_level(work, node);
        work->known[node] = is_bounded(work, node);
        if (work->known[node]) {
            known++;
            square += error_deg * error_deg;
            if (work->altitude_deg[node] > lesson->highest_deg || known == 1) {
                lesson->highest_deg = work->altitude_deg[node];
                lesson->highest_azimuth_deg = node * node_deg;
            }
        }
    }
    lesson->known_deg = known * node_deg;
    lesson->error_deg = known ? sqrt(square / known) : (double)NAN;
}

/* Whether the nodes between two are where a straight line puts them. */
static bool is_straight(const double *altitude_deg, int from, int to)
{
    double rise = altitude_deg[to % NODES] - altitude_deg[from % NODES];
    for (int node = from + 1; node < to; node++) {
        double line = altitude_deg[from % NODES] + rise * (node - from) / (to - from);
        if (fabs(line - altitude_deg[node % NODES]) > simple_deg) {
            return false;
        }
    }
    return true;
}

/* Points of a stretch of known nodes; those that a straight line makes needless are left out. */
static void write_stretch(struct skyline *skyline, const double *altitude_deg, int from, int end)
{
    for (int node = from; node < end;) {
        int next = node + 1;
        skyline_add(skyline, wrap(node * node_deg), altitude_deg[node % NODES]);
        while (next + 1 < end && is_straight(altitude_deg, node, next + 1)) {
            next++;
        }
        node = next;
    }
}

/* Behind each stretch a point that nobody knows. */
static void write_skyline(struct skyline *skyline, const double *altitude_deg, const bool *known)
{
    int start = 0;
    memset(skyline, 0, sizeof *skyline);
    while (start < NODES && known[start]) {
        start++;
    }
    if (start == NODES) { /* all around: begins in the north, and need not end */
        write_stretch(skyline, altitude_deg, 0, NODES);
        return;
    }
    for (int i = 1; i <= NODES;) {
        int end = i;
        while (end < NODES && known[(start + end) % NODES]) {
            end++;
        }
        if (end > i) {
            write_stretch(skyline, altitude_deg, start + i, start + end);
            skyline_add(skyline, wrap((start + end - 1) * node_deg + node_deg / 2), NAN);
        }
        i = end + 1;
    }
}

int skyline_lesson_find(struct skyline_lesson *lesson, const struct skyline_star *star, int stars,
                        struct error *err)
{
    struct work *work = malloc(sizeof *work);
    memset(lesson, 0, sizeof *lesson);
    if (!work) {
        return error_memory(err);
    }
    int code = work_make(work, star, stars, err);
    if (!code) {
        find_nodes(lesson, work);
        write_skyline(&lesson->skyline, work->altitude_deg, work->known);
    }
    free(work->star);
    free(work);
    return code;
}

void skyline_lesson_unite(struct skyline_lesson *lesson, const struct skyline *before)
{
    double altitude_deg[NODES];
    bool known[NODES];
    for (int node = 0; node < NODES; node++) {
        altitude_deg[node] = skyline_altitude(&lesson->skyline, node * node_deg);
        if (isnan(altitude_deg[node])) {
            altitude_deg[node] = skyline_altitude(before, node * node_deg);
        }
        known[node] = !isnan(altitude_deg[node]);
    }
    write_skyline(&lesson->skyline, altitude_deg, known);
}
