#include "match/curved_fit.h"

#include "base/median.h"
#include "base/units.h"
#include "match/curved_camera.h"
#include "match/fit.h"
#include "match/pairs.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    KINDS = 6, /* projections that are tried */
    LEAST_SEEDS = 6,
    SEEDS = 24,        /* pairs of the verdict that a projection is started with */
    GROWING = 500,     /* candidates that it grows over */
    FIT_PAIRS = 200,   /* enough for nine numbers */
    FIRST_ROUNDS = 4,  /* after which only the best projections go on, */
    SURVIVORS = 3,     /* so many of them, */
    ROUNDS = 14,       /* for so many more */
    MANY_PAIRS = 100,  /* whose scatter is known to a tenth */
    MOST_BRIGHT = 400, /* stars by which it is found how far a picture is proven */
    LEAST_PAIRS = 10,  /* stars that must be explained in the end */
    PROJECT_STEPS = 5, /* of match/effort.h: a place predicted; */
    SPREAD_STEPS = 15, /* with its error; */
    FIT_STEPS = 50     /* one star in a fit */
};

static const enum projection_kind tried[KINDS] = {PROJECTION_ARC, PROJECTION_ZEA, PROJECTION_STG,
                                                  PROJECTION_SIN, PROJECTION_CYP, PROJECTION_CAR};

/* Half the diagonal over the focal length from which on a lens may be one of these, when no plane
 * fits, and when one does: 22 and 39 degrees from the axis a plane differs from a fisheye by 5 and
 * 18 %. */
static const double least_wide = 0.4, least_rival_wide = 0.8;

static const double cut = 4;
static const double least_scale = 0.05, most_scale = 0.002;

/* One projection on its way. */
struct growth {
    struct curved_camera camera;
    struct curved_prior prior;
    double scale, share;
    int pairs;
    bool alive;
};

struct room {
    struct pair_finder finder;
    struct curved_sighting *sighting; /* of a fit */
    const struct verdict *verdict;
    double half, error;
    struct growth growth[KINDS];
};

bool curved_fit_is_possible(const struct verdict *verdict, bool present)
{
    double wide = verdict->pose.half_diagonal / verdict->pose.focal_px;
    return wide > (present ? least_rival_wide : least_wide) && verdict->pairs >= LEAST_SEEDS;
}

static int seeds_of(struct curved_sighting seed[SEEDS], const struct room *room)
{
    int count = room->verdict->pairs < SEEDS ? room->verdict->pairs : SEEDS;
    for (int i = 0; i < count; i++) {
        const struct star *star = &room->finder.list->star[room->verdict->detection[i]];
        index_star_vector(seed[i].v, &room->finder.index->star[room->verdict->star[i]]);
        pair_to_pose(seed[i].p, &room->finder, star->x, star->y);
    }
    return count;
}

/* The two of the quad that are farthest apart; returns px per radian between them. */
static double base_of(struct curved_sighting base[2], const struct curved_sighting *seed)
{
    double longest = 0, scale = 0;
    for (int i = 0; i < 4; i++) {
        for (int k = 0; k < i; k++) {
            double length = hypot(seed[i].p[0] - seed[k].p[0], seed[i].p[1] - seed[k].p[1]);
            if (length > longest) {
                longest = length;
                scale = length / (vector_angle_deg(seed[i].v, seed[k].v) * RAD_PER_DEG);
                base[0] = seed[i];
                base[1] = seed[k];
            }
        }
    }
    return scale;
}

/* Robust deviation of the seeds from where the camera has them, px. */
static double seed_scatter(const struct curved_camera *camera, const struct curved_sighting *seed,
                           int count)
{
    double length[SEEDS];
    for (int i = 0; i < count; i++) {
        double p[2];
        bool placed = curved_project(p, camera, seed[i].v);
        length[i] = placed ? hypot(p[0] - seed[i].p[0], p[1] - seed[i].p[1]) : 1e6;
    }
    return median_of(length, count) / 1.1774;
}

/* How badly the camera fits the seeds: mean of what is lost to residuals, 0 to 1. */
static double loss(const struct curved_camera *camera, const struct curved_sighting *seed,
                   int count, double scale)
{
    double sum = 0;
    for (int i = 0; i < count; i++) {
        double p[2], square = INFINITY;
        if (curved_project(p, camera, seed[i].v)) {
            double dx = p[0] - seed[i].p[0], dy = p[1] - seed[i].p[1];
            square = (dx * dx + dy * dy) / (scale * scale);
        }
        sum += isfinite(square) ? square / (1 + square) : 1;
    }
    return sum / count;
}

/* The quad gives attitude and scale there; at which angle from the axis it lies, and so the focal
 * length, is tried. */
static bool start(struct growth *growth, struct room *room, enum projection_kind kind)
{
    enum { STARTS = 9 };
    struct curved_sighting seed[SEEDS], base[2];
    const struct curved_prior stiff = {0};
    int count = seeds_of(seed, room);
    double scale = 3 + 0.002 * room->half, best = 2, local = base_of(base, seed);
    growth->alive = false;
    for (int i = 0; i < STARTS; i++) {
        struct curved_camera camera = {.kind = kind, .unit_px = room->half};
        camera.focal_px = local * pow(1.18, i - (STARTS - 1) / 2);
        if (!curved_point(&camera, base) || !curved_fit(&camera, seed, count, scale, &stiff)) {
            continue;
        }
        double value = loss(&camera, seed, count, scale);
        if (value < best) {
            best = value;
            growth->camera = camera;
            growth->alive = true;
        }
    }
    room->finder.steps += (long)STARTS * count * FIT_STEPS;
    const bool cylinder = projection_is_cylinder(kind);
    growth->prior = (struct curved_prior){(cylinder ? 0.3 : 0.05) * room->half, {0.04, 0.02, 0}};
    growth->pairs = 0;
    for (int round = 0; round < 2 && growth->alive; round++) {
        scale = fmin(scale, seed_scatter(&growth->camera, seed, count) + room->error);
        growth->alive = curved_fit(&growth->camera, seed, count, scale, &growth->prior);
    }
    growth->scale = scale;
    return growth->alive;
}

/* Pairs the candidates whose place is certain. */
static void pair_up(struct room *room, const struct growth *growth, int candidates)
{
    struct pair_finder *finder = &room->finder;
    const double reach = cut * growth->scale + 0.5;
    const double width = finder->list->width, height = finder->list->height;
    pairs_start(finder);
    for (int i = 0; i < candidates && i < finder->candidates; i++) {
        double v[3], p[2], x, y;
        index_star_vector(v, &finder->index->star[finder->candidate[i]]);
        finder->steps += PROJECT_STEPS;
        if (!curved_project(p, &growth->camera, v)) {
            continue;
        }
        pair_from_pose(&x, &y, finder, p);
        if (!(x > -reach && y > -reach && x < width + reach && y < height + reach)) {
            continue;
        }
        finder->steps += SPREAD_STEPS;
        double unknown = sqrt(2 * curved_variance(&growth->camera, v));
        if (unknown < 0.015 * room->half) {
            pairs_add(finder, finder->candidate[i], v, x, y, reach + 3 * unknown);
        }
    }
}

static double scatter(const struct room *room)
{
    double scale = pairs_scale(&room->finder), n = 2.0 * room->finder.pairs;
    double variance =
        (2 * room->error * room->error + n * scale * scale) / (2 + fmax(n - CURVED_SIZE, 0));
    return fmin(fmax(sqrt(variance), least_scale), most_scale * room->half);
}

/* Fits what is paired. */
static bool fit_pairs(struct room *room, struct growth *growth)
{
    struct pair_finder *finder = &room->finder;
    int step = (finder->pairs + FIT_PAIRS - 1) / FIT_PAIRS, count = 0;
    if (finder->pairs < 4) {
        return false;
    }
    for (int i = 0; i < finder->pairs; i += step, count++) {
        memcpy(room->sighting[count].v, finder->pair[i].v, sizeof finder->pair[i].v);
        pair_to_pose(room->sighting[count].p, finder, finder->pair[i].x, finder->pair[i].y);
    }
    finder->steps += (long)FIT_STEPS * count;
    return curved_fit(&growth->camera, room->sighting, count, growth->scale, &growth->prior);
}

static void grow(struct room *room, struct growth *growth, int rounds)
{
    int settled = 0;
    for (int round = 0; round < rounds && growth->alive && settled < 2; round++) {
        pair_up(room, growth, GROWING);
        growth->alive = fit_pairs(room, growth);
        if (!growth->alive) {
            break;
        }
        pair_up(room, growth, GROWING);
        growth->scale = scatter(room);
        settled = room->finder.pairs == growth->pairs ? settled + 1 : 0;
        growth->pairs = room->finder.pairs;
    }
}

/* Keeps those alive that have most pairs. */
static void thin_out(struct room *room)
{
    for (int i = 0; i < KINDS; i++) {
        int better = 0;
        for (int k = 0; k < KINDS; k++) {
            const struct growth *other = &room->growth[k];
            better += other->alive && (other->pairs > room->growth[i].pairs ||
                                       (other->pairs == room->growth[i].pairs && k < i));
        }
        room->growth[i].alive = room->growth[i].alive && better < SURVIVORS;
    }
}

/* What speaks for it: stars explained, less as they are explained worse, or bent
 * to. */
static double worth(const struct growth *growth)
{
    double bent = fabs(growth->camera.term[0]) + fabs(growth->camera.term[1]);
    return growth->alive ? growth->pairs / ((1 + growth->scale) * (1 + 0.1 * bent)) : 0;
}

static struct growth *choose(struct room *room)
{
    struct growth *best = &room->growth[0];
    for (int i = 0; i < KINDS; i++) {
        start(&room->growth[i], room, tried[i]);
        grow(room, &room->growth[i], FIRST_ROUNDS);
    }
    thin_out(room);
    for (int i = 0; i < KINDS; i++) {
        grow(room, &room->growth[i], ROUNDS);
        best = worth(&room->growth[i]) > worth(best) ? &room->growth[i] : best;
    }
    return best->alive ? best : NULL;
}

/* The fainter stars too, with one more term if there are enough. */
static bool refine(struct room *room, struct growth *growth)
{
    for (int round = 0; round < 3; round++) {
        pair_up(room, growth, room->finder.candidates);
        if (room->finder.pairs > 100) {
            growth->prior = (struct curved_prior){growth->prior.axis_px, {0.2, 0.1, 0.05}};
        }
        if (!fit_pairs(room, growth)) {
            return false;
        }
        pair_up(room, growth, room->finder.candidates);
        growth->scale = scatter(room);
    }
    growth->pairs = room->finder.pairs;
    return growth->pairs >= LEAST_PAIRS;
}

/* As the reach of a WCS counts: from the axis, or above and below a cylinder's horizon. */
static double angle_out(const struct wcs *wcs, const struct curved_camera *camera,
                        const double v[3])
{
    return projection_is_cylinder(wcs->projection)
               ? fabs(asin(fmax(-1, fmin(1, vector_dot(v, camera->axis[1]))))) * DEG_PER_RAD
               : vector_angle_deg(v, camera->axis[2]);
}

/* How many of the brightest candidates in the picture ought to be seen: a part of the detections
 * that cannot be noise. */
static int count_bright(const struct star_list *list)
{
    const double sure_snr = 5.5, part = 0.6;
    int sure = 0;
    for (int i = 0; i < list->count; i++) {
        sure += list->star[i].snr > sure_snr;
    }
    return (int)fmin(MOST_BRIGHT, fmax(2 * LEAST_PAIRS, part * sure));
}

/* How far out stars are found where they should be, degrees: up to the end of the last ring that
 * shows half of its bright ones. */
static double find_reach(const struct room *room, const struct wcs *wcs,
                         const struct curved_camera *camera)
{
    enum { RINGS = 36 };
    const struct pair_finder *finder = &room->finder;
    int expected[RINGS] = {0}, found[RINGS] = {0}, last = 0, bright = count_bright(finder->list);
    double farthest = 0;
    for (int i = 0, seen = 0; i < finder->candidates && seen < bright; i++) {
        double v[3], x, y;
        index_star_vector(v, &finder->index->star[finder->candidate[i]]);
        if (!wcs_pixel(&x, &y, wcs, v) || !wcs_inside(wcs, x, y)) {
            continue;
        }
        int ring = (int)fmin(angle_out(wcs, camera, v) / 5, RINGS - 1);
        seen++;
        expected[ring]++;
        for (int k = 0; k < finder->pairs; k++) {
            found[ring] += finder->pair[k].catalogue == finder->candidate[i];
        }
    }
    for (int ring = 0; ring < RINGS; ring++) {
        last = found[ring] > 0 && 2 * found[ring] >= expected[ring] ? ring : last;
    }
    for (int k = 0; k < finder->pairs; k++) {
        double angle = angle_out(wcs, camera, finder->pair[k].v);
        farthest = angle <= 5 * (last + 1) ? fmax(farthest, angle) : farthest;
    }
    return farthest + 0.01;
}

/* As fit.c asks of a plane: the fewer of the bright stars are there, the closer they have to be. */
static bool is_convincing(const struct growth *growth, double error)
{
    double errors = growth->scale / error;
    return (growth->share > 0.5 && errors < 2.5) ||
           (growth->share > 0.3 && errors < 1.5 && growth->pairs > 2 * LEAST_PAIRS);
}

/* How well a place is known; NAN beyond the reach. */
static double error_at(const struct wcs *wcs, const struct curved_camera *camera, double x,
                       double y)
{
    double v[3];
    wcs_direction(v, wcs, x, y);
    return wcs_pixel(&x, &y, wcs, v) ? sqrt(curved_variance(camera, v)) : NAN;
}

static void report_cross(struct solution *solution, const struct curved_camera *camera)
{
    const struct wcs *wcs = &solution->wcs;
    double off[4][2], arm[4][3], turn_error;
    solution_cross(off, wcs);
    for (int i = 0; i < 4; i++) {
        wcs_direction(arm[i], wcs, 0.5 * (wcs->width - 1) + off[i][0],
                      0.5 * (wcs->height - 1) + off[i][1]);
    }
    curved_cross_errors(&solution->scale_error, &turn_error, camera, arm);
    solution->turn_error_deg = turn_error * DEG_PER_RAD;
}

static void report_errors(struct solution *solution, const struct curved_camera *camera)
{
    const struct wcs *wcs = &solution->wcs;
    double worst = NAN;
    solution->middle_error_px =
        error_at(wcs, camera, 0.5 * (wcs->width - 1), 0.5 * (wcs->height - 1));
    for (int i = 0; i < SOLUTION_CELLS; i++) {
        double x = (i % SOLUTION_COLUMNS + 0.5) / SOLUTION_COLUMNS * wcs->width - 0.5;
        double y = (i / SOLUTION_COLUMNS + 0.5) / SOLUTION_ROWS * wcs->height - 0.5;
        solution->cell_error_px[i] = error_at(wcs, camera, x, y);
        worst = fmax(worst, solution->cell_error_px[i]);
    }
    solution->corner_error_px = worst;
    report_cross(solution, camera);
}

static int report(struct solution *solution, struct room *room, const struct growth *growth,
                  const struct wcs *wcs, bool mirrored, struct error *err)
{
    solution->wcs = *wcs;
    solution->pose = (struct pose){.half_diagonal = room->half};
    solution->mirrored = mirrored;
    solution->by_lens = false;
    report_errors(solution, &growth->camera);
    return fit_report_pairs(solution, &room->finder) ? error_memory(err) : 0;
}

/* What speaks for an answer from a plane, with the same candidates. */
struct rival {
    double share, scale;
    int pairs;
};

static void weigh_rival(struct rival *rival, struct room *room, const struct solution *solution)
{
    double reach = cut * solution->rms_px + 0.5;
    pairs_by_wcs(&room->finder, &solution->wcs, reach);
    *rival = (struct rival){.share = pairs_share(&room->finder, &solution->wcs, reach),
                            .scale = pairs_scale(&room->finder),
                            .pairs = room->finder.pairs};
}

/* Polynomials on a plane may follow a fisheye of 100 degrees nearly to its rim: then it shows in
 * what they miss there or in how well. Where they fit badly they reach far for their pairs, and
 * find some by chance. */
static bool beats(const struct growth *growth, const struct rival *rival)
{
    double scale = growth->scale / fmax(rival->scale, least_scale);
    return (growth->share > rival->share + 0.1 && growth->pairs > rival->pairs) ||
           (growth->pairs > 1.05 * rival->pairs && scale < 1.1) ||
           (growth->pairs > 0.97 * rival->pairs && growth->pairs > MANY_PAIRS && scale < 0.85) ||
           (growth->pairs > 0.75 * rival->pairs && growth->pairs > MANY_PAIRS && scale < 0.5);
}

static bool solve(struct wcs *wcs, struct growth **grown, struct room *room, bool mirrored,
                  const struct solution *present)
{
    const struct star_list *list = room->finder.list;
    struct rival rival = {0};
    if (present) {
        weigh_rival(&rival, room, present);
    }
    pair_finder_widen(&room->finder, room->verdict->pose.axis[2], PI);
    struct growth *growth = *grown = choose(room);
    if (!growth || !refine(room, growth)) {
        return false;
    }
    curved_wcs(wcs, &growth->camera, (int)list->width, (int)list->height, mirrored);
    double reach = cut * growth->scale + 0.5;
    wcs->reach_deg = find_reach(room, wcs, &growth->camera);
    if (!projection_is_cylinder(wcs->projection)) {
        pair_finder_widen(&room->finder, growth->camera.axis[2], wcs->reach_deg * RAD_PER_DEG);
    }
    pairs_by_wcs(&room->finder, wcs, reach);
    growth->pairs = room->finder.pairs;
    growth->share = pairs_share(&room->finder, wcs, reach);
    room->finder.steps += (long)SPREAD_STEPS * room->finder.candidates;
    return is_convincing(growth, room->error) && (!present || beats(growth, &rival));
}

int curved_fit_solution(struct solution *solution, const struct verdict *verdict, bool mirrored,
                        const struct star_list *list, const struct index *index,
                        const struct solution *present, long *steps, struct error *err)
{
    struct room *room = calloc(1, sizeof *room);
    struct growth *growth = NULL;
    struct wcs wcs;
    int code = room ? 0 : error_memory(err);
    if (!code) {
        code = pair_finder_make(&room->finder, list, index, verdict, mirrored, err);
    }
    if (!code) {
        room->verdict = verdict;
        room->half = verdict->pose.half_diagonal;
        room->error = detections_position_error(list);
        room->sighting = malloc((FIT_PAIRS + 1) * sizeof *room->sighting);
        code = !room->sighting ? error_memory(err)
               : !solve(&wcs, &growth, room, mirrored, present)
                   ? ERROR_NO
                   : report(solution, room, growth, &wcs, mirrored, err);
        *steps += room->finder.steps;
        free(room->sighting);
        pair_finder_free(&room->finder);
    }
    free(room);
    return code;
}
