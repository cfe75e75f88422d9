#include "match/all_sky.h"

#include "base/units.h"
#include "match/curved_camera.h"
#include "match/curved_fit.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    MOST_LISTED = 600, /* more are found by quads */
    LEAST_LISTED = 12,
    BASES = 11,      /* brightest detections that pairs are made of */
    SEEN = 45,       /* brightest detections that count as met */
    STARS = 64,      /* brightest catalogue stars that are looked for, */
    BASE_STARS = 44, /* of which pairs are made */
    FOCALS = 17,     /* focal lengths that are tried */
    FIRST = 6,       /* visible stars after which a hypothesis must have met some, */
    FIRST_MET = 2,   /* so many; */
    NEXT = 12,       /* and again */
    NEXT_MET = 4,
    TABLE = 2048, /* of what an equidistant lens does to a sine */
    KEPT = 24,    /* hypotheses that are grown */
    FITTED = 4,   /* of which the best are fitted */
    GRID = 80,    /* cells along each side of the picture */
    LEAST_MET = 9,
    TRY_STEPS = 5 /* of match/effort.h, for one hypothesis */
};

/* Between two focal lengths, and how far a star may be from where an equidistant lens of one of
 * them has it. */
static const double focal_step = 1.062, met_deg = 2.6;
/* Of a pair on the sky; shorter ones fix no direction, of longer ones one star is at the rim. */
static const double shortest_deg = 18, longest_deg = 110;
/* What is farther from the axis is not looked for at first: the rim is where lenses differ. */
static const double rim_deg = 78;

struct star_pair {
    double angle;
    short a, b;
};

struct trial {
    struct curved_camera camera;
    bool mirrored;
    double score;
    int met;
};

struct sky_search {
    const struct star_list *list;
    const struct index *index;
    int stars, seen;
    uint32_t number[STARS];
    double v[STARS][3];
    struct star_pair pair[BASE_STARS * (BASE_STARS - 1) / 2];
    int pairs;
    double width, height, half;
    bool near[GRID][GRID]; /* a detection is so near, at the focal length that is tried */
    double covered;        /* share of the cells */
    struct trial kept[KEPT];
    int trials;
    long tried;
    double stretch[TABLE + 2]; /* an angle over its sine, by its cosine from 0 to 1 */
};

bool all_sky_is_possible(const struct star_list *list)
{
    return list->count >= LEAST_LISTED && list->count <= MOST_LISTED;
}

static int by_angle(const void *a, const void *b)
{
    const struct star_pair *s = a, *t = b;
    return s->angle != t->angle ? (s->angle < t->angle ? -1 : 1)
           : s->a != t->a       ? s->a - t->a
                                : s->b - t->b;
}

static void list_pairs(struct sky_search *s)
{
    static const double anywhere[3] = {0, 0, 1};
    s->stars = index_brightest(s->number, STARS, s->index, anywhere, PI, 30000);
    for (int i = 0; i < s->stars; i++) {
        index_star_vector(s->v[i], &s->index->star[s->number[i]]);
    }
    for (int i = 0; i < s->stars && i < BASE_STARS; i++) {
        for (int k = 0; k < i; k++) {
            double angle = vector_angle_deg(s->v[i], s->v[k]);
            if (angle > shortest_deg - met_deg && angle < longest_deg + met_deg) {
                s->pair[s->pairs++] = (struct star_pair){angle, (short)k, (short)i};
            }
        }
    }
    qsort(s->pair, (size_t)s->pairs, sizeof *s->pair, by_angle);
}

static void place_of(double p[2], const struct sky_search *s, int star, bool mirrored)
{
    p[0] = s->list->star[star].x - 0.5 * (s->width - 1);
    p[0] = mirrored ? -p[0] : p[0];
    p[1] = s->list->star[star].y - 0.5 * (s->height - 1);
}

static int cell_of(double x, double size)
{
    double cell = floor((x / size + 0.5) * GRID);
    return cell >= 0 && cell < GRID ? (int)cell : -1;
}

static double cell_middle(int cell, double size)
{
    return ((cell + 0.5) / GRID - 0.5) * size;
}

static int clamped_cell(double x, double size)
{
    double cell = floor((x / size + 0.5) * GRID);
    return (int)fmax(0, fmin(GRID - 1, cell));
}

/* Marks the cells whose middles are near a place. */
static void mark_around(struct sky_search *s, const double p[2], double reach)
{
    int left = clamped_cell(p[0] - reach, s->width), right = clamped_cell(p[0] + reach, s->width);
    int top = clamped_cell(p[1] - reach, s->height);
    int bottom = clamped_cell(p[1] + reach, s->height);
    for (int row = top; row <= bottom; row++) {
        double y = p[1] - cell_middle(row, s->height);
        for (int column = left; column <= right; column++) {
            double x = p[0] - cell_middle(column, s->width);
            s->near[row][column] = s->near[row][column] || x * x + y * y < reach * reach;
        }
    }
}

/* Marks the cells that are near a bright detection. */
static void mark_cells(struct sky_search *s, double focal_px, bool mirrored)
{
    double reach = met_deg * RAD_PER_DEG * focal_px, p[2];
    int marked = 0;
    memset(s->near, 0, sizeof s->near);
    for (int i = 0; i < s->seen; i++) {
        place_of(p, s, i, mirrored);
        mark_around(s, p, reach);
    }
    for (int row = 0; row < GRID; row++) {
        for (int column = 0; column < GRID; column++) {
            marked += s->near[row][column];
        }
    }
    s->covered = fmin(0.9, fmax(0.01, (double)marked / (GRID * GRID)));
}

static void fill_stretch(struct sky_search *s)
{
    for (int i = 0; i < TABLE + 2; i++) {
        double cosine = fmin(1, (double)i / TABLE), sine = sqrt(1 - cosine * cosine);
        s->stretch[i] = sine > 0 ? atan2(sine, cosine) / sine : 1;
    }
}

/* Between two entries it is straight to a ten-thousandth of a pixel. */
static double stretch_at(const struct sky_search *s, double cosine)
{
    double at = fmax(0, fmin(1, cosine)) * TABLE;
    int i = (int)at;
    return s->stretch[i] + (at - i) * (s->stretch[i + 1] - s->stretch[i]);
}

/* How much likelier the bright stars are met as they are than by chance; low as soon as too few
 * are. */
static double score_of(const struct sky_search *s, const struct curved_camera *camera, int *met)
{
    const double found = 0.75, rim = cos(rim_deg * RAD_PER_DEG);
    const double gain = log(found / s->covered), loss = log((1 - found) / (1 - s->covered));
    double score = 0;
    int looked = 0;
    *met = 0;
    for (int i = 0; i < s->stars; i++) {
        double out = vector_dot(s->v[i], camera->axis[2]);
        if (out < rim) {
            continue;
        }
        double right = vector_dot(s->v[i], camera->axis[0]);
        double down = vector_dot(s->v[i], camera->axis[1]);
        double r = camera->focal_px * stretch_at(s, out);
        int column = cell_of(right * r, s->width), row = cell_of(down * r, s->height);
        bool is_met = column >= 0 && row >= 0 && s->near[row][column];
        score += is_met ? gain : column >= 0 && row >= 0 ? loss : 0;
        *met += is_met;
        looked++;
        if ((looked == FIRST && *met < FIRST_MET) || (looked == NEXT && *met < NEXT_MET)) {
            return -INFINITY;
        }
    }
    return score;
}

/* Keeps the best of those that are told apart. */
static void keep(struct sky_search *s, const struct trial *trial)
{
    int worst = 0;
    for (int i = 0; i < s->trials; i++) {
        const struct trial *other = &s->kept[i];
        bool same = other->mirrored == trial->mirrored &&
                    vector_angle_deg(other->camera.axis[2], trial->camera.axis[2]) < 4 &&
                    vector_angle_deg(other->camera.axis[0], trial->camera.axis[0]) < 6;
        if (same) {
            s->kept[i] = trial->score > other->score ? *trial : *other;
            return;
        }
        worst = other->score < s->kept[worst].score ? i : worst;
    }
    if (s->trials < KEPT) {
        s->kept[s->trials++] = *trial;
    } else if (trial->score > s->kept[worst].score) {
        s->kept[worst] = *trial;
    }
}

/* Lays two detections on all pairs of stars that are as far apart. */
static void try_base(struct sky_search *s, const struct curved_camera *camera, bool mirrored,
                     const struct curved_sighting base[2], double angle_deg)
{
    int low = 0, high = s->pairs;
    while (low < high) {
        int middle = (low + high) / 2;
        if (s->pair[middle].angle < angle_deg - met_deg) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    for (; low < s->pairs && s->pair[low].angle < angle_deg + met_deg; low++) {
        for (int turned = 0; turned < 2; turned++) {
            struct trial trial = {.camera = *camera, .mirrored = mirrored};
            struct curved_sighting pair[2] = {base[0], base[1]};
            const struct star_pair *on = &s->pair[low];
            memcpy(pair[0].v, s->v[turned ? on->b : on->a], sizeof pair[0].v);
            memcpy(pair[1].v, s->v[turned ? on->a : on->b], sizeof pair[1].v);
            s->tried++;
            if (!curved_point(&trial.camera, pair)) {
                continue;
            }
            trial.score = score_of(s, &trial.camera, &trial.met);
            if (trial.score > 0) {
                keep(s, &trial);
            }
        }
    }
}

static void try_focal(struct sky_search *s, double focal_px, bool mirrored)
{
    struct curved_camera camera = {
        .kind = PROJECTION_ARC, .focal_px = focal_px, .unit_px = s->half};
    mark_cells(s, focal_px, mirrored);
    for (int i = 1; i < BASES && i < s->seen; i++) {
        for (int k = 0; k < i; k++) {
            struct curved_sighting base[2] = {0};
            double n[2][3], plane[2];
            const int star[2] = {k, i};
            for (int m = 0; m < 2; m++) {
                place_of(base[m].p, s, star[m], mirrored);
                plane[0] = base[m].p[0] / focal_px;
                plane[1] = base[m].p[1] / focal_px;
                projection_vector(n[m], PROJECTION_ARC, plane);
            }
            double angle = vector_angle_deg(n[0], n[1]), rim = cos(rim_deg * RAD_PER_DEG);
            if (angle > shortest_deg && angle < longest_deg && n[0][2] > rim && n[1][2] > rim) {
                try_base(s, &camera, mirrored, base, angle);
            }
        }
    }
}

/* The nearest of the bright detections that is not taken; -1 if none is within reach. */
static int nearest(const struct sky_search *s, const double p[2], bool mirrored, double reach,
                   const bool taken[SEEN])
{
    int found = -1;
    for (int i = 0; i < s->seen; i++) {
        double at[2];
        place_of(at, s, i, mirrored);
        double off = hypot(at[0] - p[0], at[1] - p[1]);
        if (!taken[i] && off < reach) {
            reach = off;
            found = i;
        }
    }
    return found;
}

/* Pairs and fits in turn, ever closer; what is left are the pairs of the verdict. */
static void grow(struct verdict *verdict, struct sky_search *s, struct trial *trial)
{
    static const double reach_deg[] = {2.6, 2, 1.4, 0.9, 0.6, 0.4};
    const struct curved_prior prior = {0.05 * s->half, {0.06, 0.03, 0}};
    struct curved_camera *camera = &trial->camera;
    for (size_t round = 0; round < sizeof reach_deg / sizeof *reach_deg; round++) {
        struct curved_sighting sighting[SEEN];
        bool taken[SEEN] = {false};
        double reach = reach_deg[round] * RAD_PER_DEG * camera->focal_px, p[2];
        verdict->pairs = 0;
        for (int i = 0; i < s->stars; i++) {
            if (!curved_project(p, camera, s->v[i])) {
                continue;
            }
            int star = nearest(s, p, trial->mirrored, reach, taken);
            if (star >= 0) {
                struct curved_sighting *seen = &sighting[verdict->pairs];
                taken[star] = true;
                place_of(seen->p, s, star, trial->mirrored);
                memcpy(seen->v, s->v[i], sizeof seen->v);
                verdict->star[verdict->pairs] = s->number[i];
                verdict->detection[verdict->pairs++] = star;
            }
        }
        if (verdict->pairs < 5 ||
            !curved_fit(camera, sighting, verdict->pairs, 0.3 * reach, &prior)) {
            verdict->pairs = 0;
            return;
        }
    }
}

/* Binomial tail: the chance to meet so many of them or more, log10, by the bound of Chernoff
 * (Hoeffding 1963, J. Am. Stat. Assoc. 58, 13, theorem 1). */
static double tail_log10(int met, int of, double chance)
{
    double share = (double)met / of;
    if (met <= 0 || share <= chance) {
        return 0;
    }
    double rest = share < 1 ? (1 - share) * log((1 - share) / (1 - chance)) : 0;
    return -of * (share * log(share / chance) + rest) / log(10);
}

/* The chance that so many of the brightest stars that should show are met as closely as they are,
 * less those that the nine numbers of the camera may have been bent to. */
static double chance_of(const struct sky_search *s, const struct solution *solution)
{
    enum { BENT_TO = 5 };
    const double reach = 4 * fmax(solution->rms_px, 0.5) + 0.5;
    int looked = 0, met = 0, deepest = 0;
    for (int i = 0; i < s->stars; i++) {
        double x, y;
        if (!wcs_pixel(&x, &y, &solution->wcs, s->v[i]) || !wcs_inside(&solution->wcs, x, y)) {
            continue;
        }
        looked++;
        for (int k = 0; k < solution->matched; k++) {
            if ((uint32_t)solution->pair[k].catalogue == s->number[i]) {
                met++;
                deepest = solution->pair[k].star > deepest ? solution->pair[k].star : deepest;
            }
        }
    }
    if (looked == 0) {
        return 0;
    }
    double lot = fmin(0.5, (deepest + 1) * PI * reach * reach / (0.5 * s->width * s->height));
    return fmin(0, tail_log10(met - BENT_TO, looked, lot) + log10((double)s->tried));
}

static int by_score(const void *a, const void *b)
{
    const struct trial *s = a, *t = b;
    return s->score > t->score ? -1 : s->score < t->score;
}

static int fit_best(struct solution *solution, struct sky_search *s, double accept_log10,
                    long *steps, struct error *err)
{
    int fitted = 0;
    qsort(s->kept, (size_t)s->trials, sizeof *s->kept, by_score);
    for (int i = 0; i < s->trials && fitted < FITTED; i++) {
        struct verdict verdict = {0};
        struct trial *trial = &s->kept[i];
        grow(&verdict, s, trial);
        *steps += 3000;
        if (verdict.pairs < LEAST_MET) {
            continue;
        }
        fitted++;
        verdict.pose = (struct pose){.focal_px = trial->camera.focal_px, .half_diagonal = s->half};
        memcpy(verdict.pose.axis, trial->camera.axis, sizeof verdict.pose.axis);
        int code = curved_fit_solution(solution, &verdict, trial->mirrored, s->list, s->index, NULL,
                                       steps, err);
        if (code == ERROR_MEMORY) {
            return code;
        }
        solution->chance_log10 = code == 0 ? chance_of(s, solution) : 0;
        if (code == 0 && solution->chance_log10 < accept_log10) {
            return 0;
        }
    }
    return ERROR_NO;
}

int all_sky_solve(struct solution *solution, const struct star_list *list,
                  const struct index *index, double accept_log10, long *steps, struct error *err)
{
    struct sky_search *s = calloc(1, sizeof *s);
    if (!s) {
        return error_memory(err);
    }
    s->list = list;
    s->index = index;
    s->width = list->width;
    s->height = list->height;
    s->half = 0.5 * hypot(s->width, s->height);
    s->seen = list->count < SEEN ? list->count : SEEN;
    list_pairs(s);
    fill_stretch(s);
    /* From a circle of 0.7 of the shorter side to one that is as wide as the picture is long. */
    double focal_px = 0.35 * fmin(s->width, s->height) / (PI / 2);
    for (int i = 0; i < FOCALS; i++, focal_px *= focal_step) {
        try_focal(s, focal_px, false);
        try_focal(s, focal_px, true);
    }
    *steps += TRY_STEPS * s->tried;
    int code = fit_best(solution, s, accept_log10, steps, err);
    free(s);
    return code;
}
