#include "match/arc_turn.h"

#include "base/median.h"
#include "base/random.h"
#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    CHORDS_MOST = 500, /* of the brightest arcs: more tell nothing new */
    TRIES = 150,       /* pairs of chords for each focal length */
    ROUNDS = 3,
    LEAST_WHOLE = 6,
    LEAST_PLAIN = 40
};

/* Angle of half of the diagonal: which lenses are tried. */
static const double first_half_deg = 4, last_half_deg = 56, half_step_deg = 4;

static const double bent = 0.015;        /* by which a lens may turn a chord */
static const double least_radius = 0.05; /* sine: nearer to the pole it does not tell directions */
static const double turn_share = 0.06;   /* and change an angle */

static const double least_share = 0.1; /* of all arcs */
static const double plain_share =
    0.5; /* of the brightest, square to one pole: never of any lines */

struct chord {
    double ray[2][3];           /* its ends */
    double along[3], middle[3]; /* unit vectors: from one end to the other, and to between them */
    double slack;               /* of its direction, radians */
    double length;              /* px */
    double turn, turn_slack;    /* about a pole, radians */
    int arc;
};

struct chords {
    struct chord chord[CHORDS_MOST];
    int count;
    double focal_px, error_px;
};

static int brighter(const void *a, const void *b)
{
    double x = (*(const struct arc *const *)a)->light, y = (*(const struct arc *const *)b)->light;
    return x > y ? -1 : x < y;
}

static void set_ray(struct chord *c, const struct arc_list *arcs, double focal_px)
{
    const struct arc *arc = &arcs->arc[c->arc];
    for (int k = 0; k < 2; k++) {
        c->ray[k][0] = arc->x[k] - (arcs->width - 1) / 2;
        c->ray[k][1] = arc->y[k] - (arcs->height - 1) / 2;
        c->ray[k][2] = focal_px;
        vector_normalise(c->ray[k]);
    }
    for (int k = 0; k < 3; k++) {
        c->along[k] = c->ray[1][k] - c->ray[0][k];
        c->middle[k] = c->ray[1][k] + c->ray[0][k];
    }
    vector_normalise(c->along);
    vector_normalise(c->middle);
}

static void set_rays(struct chords *chords, const struct arc_list *arcs, double focal_px)
{
    chords->focal_px = focal_px;
    for (int i = 0; i < chords->count; i++) {
        set_ray(&chords->chord[i], arcs, focal_px);
    }
}

static struct chord chord_of(const struct arc_list *arcs, const struct arc *arc)
{
    return (struct chord){.arc = (int)(arc - arcs->arc),
                          .length = arc->length,
                          .slack = bent + 2 * arcs->error_px / arc->length};
}

/* How far from square a chord is to a circle's radius, where it lies, in what it may be off. Near
 * the pole a small error of that turns the radius. */
static double off_square(const struct chord *c, const double pole[3])
{
    double out = vector_dot(c->middle, pole), radius = sqrt(fmax(0, 1 - out * out));
    return fabs(vector_dot(c->along, pole)) / (c->slack * fmax(radius, least_radius));
}

/* What speaks for a pole: chords that are square to it, the squarer the more. */
static double square_votes(const struct chords *chords, const double pole[3])
{
    double votes = 0;
    for (int i = 0; i < chords->count; i++) {
        double off = off_square(&chords->chord[i], pole);
        votes += off < 1 ? 1 - off * off : 0;
    }
    return votes;
}

/* The direction that is squarest to the chords that are nearly so. */
static void refine(double pole[3], const struct chords *chords)
{
    for (int round = 0; round < ROUNDS; round++) {
        double form[3][3] = {{0}};
        for (int i = 0; i < chords->count; i++) {
            const struct chord *c = &chords->chord[i];
            double out = vector_dot(c->middle, pole);
            double slack = c->slack * sqrt(fmax(least_radius * least_radius, 1 - out * out));
            double weight = off_square(c, pole) < 1 ? 1 / (slack * slack) : 0;
            for (int row = 0; row < 3; row++) {
                for (int column = 0; column < 3; column++) {
                    form[row][column] += weight * c->along[row] * c->along[column];
                }
            }
        }
        matrix_least_axis(pole, form, pole);
    }
}

static void find_pole(double pole[3], const struct chords *chords)
{
    struct random random = {20};
    double best = -1;
    for (int i = 0; i < TRIES; i++) {
        double one[3];
        int a = (int)(random_uniform(&random) * chords->count);
        int b = (int)(random_uniform(&random) * chords->count);
        vector_cross(one, chords->chord[a].along, chords->chord[b].along);
        if (vector_dot(one, one) < 1e-6) {
            continue;
        }
        vector_normalise(one);
        double votes = square_votes(chords, one);
        if (votes > best) {
            best = votes;
            memcpy(pole, one, sizeof one);
        }
    }
    if (best > 0) {
        refine(pole, chords);
    } else {
        memset(pole, 0, 3 * sizeof *pole);
        pole[2] = 1;
    }
}

/* Angles about the pole, without a sign. */
static void find_turns(struct chords *chords, const double pole[3])
{
    for (int i = 0; i < chords->count; i++) {
        struct chord *c = &chords->chord[i];
        double side[2][3], cross[3], radius = 1;
        for (int k = 0; k < 2; k++) {
            double along = vector_dot(c->ray[k], pole);
            for (int j = 0; j < 3; j++) {
                side[k][j] = c->ray[k][j] - along * pole[j];
            }
            radius = fmin(radius, sqrt(vector_dot(side[k], side[k])));
        }
        vector_cross(cross, side[0], side[1]);
        c->turn = atan2(fabs(vector_dot(cross, pole)), vector_dot(side[0], side[1]));
        c->turn_slack = 2 * chords->error_px / (chords->focal_px * fmax(radius, 1e-3));
    }
}

static bool turns_so(const struct chord *c, const double pole[3], double turn)
{
    return off_square(c, pole) < 1 && fabs(c->turn - turn) < turn_share * turn + c->turn_slack &&
           c->turn_slack < 0.25 * turn;
}

/* The angle that most arcs share, the longer the more. */
static double find_turn(double *votes, const struct chords *chords, const double pole[3])
{
    double turn = 0;
    *votes = 0;
    for (int i = 0; i < chords->count; i++) {
        double sum = 0, candidate = chords->chord[i].turn;
        for (int k = 0; k < chords->count; k++) {
            const struct chord *c = &chords->chord[k];
            double off = (c->turn - candidate) / (turn_share * candidate + c->turn_slack);
            sum += turns_so(c, pole, candidate) ? c->length * (1 - 0.5 * off * off) : 0;
        }
        if (sum > *votes) {
            *votes = sum;
            turn = candidate;
        }
    }
    return turn;
}

static int choose_chords(struct chords *chords, const struct arc_list *arcs, struct error *err)
{
    const struct arc **sorted = malloc(((size_t)arcs->count + 1) * sizeof *sorted);
    if (!sorted) {
        return error_memory(err);
    }
    for (int i = 0; i < arcs->count; i++) {
        sorted[i] = &arcs->arc[i];
    }
    qsort(sorted, (size_t)arcs->count, sizeof *sorted, brighter);
    chords->error_px = arcs->error_px;
    for (int i = 0; i < arcs->count && i < CHORDS_MOST; i++) {
        chords->chord[chords->count++] = chord_of(arcs, sorted[i]);
    }
    free(sorted);
    return 0;
}

static void clear_whole(bool *is_whole, const struct arc_list *arcs)
{
    for (int i = 0; i < arcs->count; i++) {
        is_whole[i] = false;
    }
}

static void take_whole(struct arc_turn *turn, bool *is_whole, const struct chords *chords,
                       double radians)
{
    turn->whole = 0;
    for (int i = 0; i < chords->count; i++) {
        const struct chord *c = &chords->chord[i];
        is_whole[c->arc] = turns_so(c, turn->pole, radians);
        turn->whole += is_whole[c->arc];
    }
}

static int count_square(const struct chords *chords, const double pole[3])
{
    int square = 0;
    for (int i = 0; i < chords->count; i++) {
        square += off_square(&chords->chord[i], pole) < 1;
    }
    return square;
}

/* Of some focal lengths the one at which most arcs share an angle, and the one at which most are
 * square to a pole. */
static void try_focals(struct arc_turn *shared, struct arc_turn *square, bool *is_whole,
                       struct chords *chords, const struct arc_list *arcs)
{
    double best = 0, squarest = 0, half_px = hypot(arcs->width, arcs->height) / 2;
    for (double half = first_half_deg; half <= last_half_deg; half += half_step_deg) {
        struct arc_turn one = {.asked = chords->count};
        double votes;
        set_rays(chords, arcs, half_px / tan(half * RAD_PER_DEG));
        find_pole(one.pole, chords);
        find_turns(chords, one.pole);
        double radians = find_turn(&votes, chords, one.pole);
        double square_sum = square_votes(chords, one.pole);
        one.focal_px = chords->focal_px;
        one.square = count_square(chords, one.pole);
        if (square_sum > squarest) {
            squarest = square_sum;
            *square = one;
        }
        if (votes > best) {
            best = votes;
            one.turn_deg = radians * DEG_PER_RAD;
            take_whole(&one, is_whole, chords, radians);
            *shared = one;
        }
    }
}

int arc_turn_find(struct arc_turn *turn, bool *is_whole, const struct arc_list *arcs,
                  struct error *err)
{
    struct chords *chords = calloc(1, sizeof *chords);
    struct arc_turn square = {0};
    *turn = (struct arc_turn){0};
    clear_whole(is_whole, arcs);
    int code = chords ? choose_chords(chords, arcs, err) : error_memory(err);
    if (!code && chords->count >= LEAST_WHOLE) {
        try_focals(turn, &square, is_whole, chords, arcs);
    }
    /* Some of any lines agree. */
    if (turn->whole < LEAST_WHOLE || turn->whole < least_share * arcs->count) {
        *turn = square;
        clear_whole(is_whole, arcs);
    }
    free(chords);
    return code;
}

bool arc_turn_is_plain(const struct arc_turn *turn)
{
    return turn->square >= LEAST_PLAIN && turn->square > plain_share * turn->asked;
}

static int by_flux(const void *a, const void *b)
{
    double x = ((const struct star *)a)->flux, y = ((const struct star *)b)->flux;
    return x > y ? -1 : x < y;
}

/* A list with room for a star of each arc; ERROR_MEMORY. */
static int begin_stars(struct star_list *list, const struct arc_list *arcs, struct error *err)
{
    *list = (struct star_list){.width = arcs->width, .height = arcs->height};
    list->star = calloc((size_t)arcs->count + 1, sizeof *list->star);
    return list->star ? 0 : error_memory(err);
}

static void add_star(struct star_list *list, const struct arc_list *arcs, const struct arc *arc,
                     double x, double y, double light)
{
    list->star[list->count++] = (struct star){.x = x,
                                              .y = y,
                                              .flux = light,
                                              .peak = arc->light / arc->length,
                                              .size = 2 * arcs->error_px,
                                              .elongation = 1,
                                              .snr = sqrt(arc->light)};
}

static void end_stars(struct star_list *list)
{
    list->raw_count = list->count;
    qsort(list->star, (size_t)list->count, sizeof *list->star, by_flux);
}

int arc_turn_stars(struct star_list *list, const struct arc_list *arcs, const bool *is_whole,
                   struct error *err)
{
    int code = begin_stars(list, arcs, err);
    for (int i = 0; !code && i < arcs->count; i++) {
        const struct arc *arc = &arcs->arc[i];
        if (is_whole[i]) {
            add_star(list, arcs, arc, arc->middle_x, arc->middle_y, arc->light);
        }
    }
    if (!code) {
        end_stars(list);
    }
    return code;
}

/* An arc seen from its pole. */
struct seen_arc {
    int first;     /* of its ends, the one that lies before the other, walking round the pole */
    double radius; /* sine of its distance from the pole */
    bool square;   /* it runs round the pole */
};

static struct seen_arc see_arc(const struct arc_list *arcs, const struct arc *arc,
                               const struct arc_turn *turn)
{
    struct chord c = chord_of(arcs, arc);
    double cross[3];
    set_ray(&c, arcs, turn->focal_px);
    vector_cross(cross, c.ray[0], c.ray[1]);
    double out = vector_dot(c.middle, turn->pole);
    return (struct seen_arc){.first = vector_dot(cross, turn->pole) > 0 ? 0 : 1,
                             .radius = sqrt(fmax(0, 1 - out * out)),
                             .square = off_square(&c, turn->pole) < 1};
}

static bool at_edge(const struct arc_list *arcs, double x, double y)
{
    double margin = 6 * arcs->error_px;
    return x < margin || y < margin || x > arcs->width - 1 - margin ||
           y > arcs->height - 1 - margin;
}

int arc_turn_end_stars(struct star_list *list, const struct arc_list *arcs,
                       const struct arc_turn *turn, int side, struct error *err)
{
    int code = begin_stars(list, arcs, err);
    for (int i = 0; !code && i < arcs->count; i++) {
        const struct arc *arc = &arcs->arc[i];
        struct seen_arc seen = see_arc(arcs, arc, turn);
        int end = seen.first ^ side;
        if (!seen.square || at_edge(arcs, arc->x[end], arc->y[end])) {
            continue;
        }
        /* A star is as bright as its light in the time in which the sky turns by so much. */
        double light = arc->light / arc->length * seen.radius;
        add_star(list, arcs, arc, arc->x[end], arc->y[end], light);
    }
    if (!code) {
        end_stars(list);
    }
    return code;
}

/* One whole arc under a WCS of mid-exposure. */
struct swept {
    double turn_deg;   /* of right ascension */
    double per_px_deg; /* of it for each pixel along the arc */
};

static bool sweep(struct swept *swept, const struct arc *arc, double error_px,
                  const struct wcs *wcs)
{
    double ra[2], dec[2];
    for (int k = 0; k < 2; k++) {
        wcs_radec(&ra[k], &dec[k], wcs, arc->x[k], arc->y[k]);
    }
    swept->turn_deg = fabs(angle_wrap_180(ra[1] - ra[0]));
    swept->per_px_deg = swept->turn_deg / arc->length;
    double slack = bent + 2 * error_px / arc->length;
    return fabs(dec[1] - dec[0]) < slack * radec_angle_deg(ra[0], dec[0], ra[1], dec[1]);
}

/* Stars' width makes arcs longer by about as many pixels, all of them: that is taken off. The error
 * is that of a median of what scatters, and half of what is taken off. */
static void mean_turn(double *turn_deg, double *error_deg, struct swept *swept, int count,
                      double error_px, double *scratch)
{
    double excess_px = 0.9 * error_px;
    for (int i = 0; i < count; i++) {
        swept[i].turn_deg -= excess_px * swept[i].per_px_deg;
        scratch[i] = swept[i].turn_deg;
    }
    *turn_deg = median_of(scratch, count);
    for (int i = 0; i < count; i++) {
        scratch[i] = fabs(swept[i].turn_deg - *turn_deg);
    }
    double scatter = median_of(scratch, count) / 0.6745;
    for (int i = 0; i < count; i++) {
        scratch[i] = swept[i].per_px_deg;
    }
    *error_deg = hypot(1.2533 * scatter / sqrt(count), excess_px / 2 * median_of(scratch, count));
}

/* Drops those far from the usual angle; returns how many are left. */
static int keep_alike(struct swept *swept, int count, double error_px, double *scratch)
{
    int alike = 0;
    for (int i = 0; i < count; i++) {
        scratch[i] = swept[i].turn_deg;
    }
    double middle = median_of(scratch, count);
    for (int i = 0; i < count; i++) {
        double slack = 2 * (turn_share * middle + error_px * swept[i].per_px_deg);
        if (fabs(swept[i].turn_deg - middle) < slack) {
            swept[alike++] = swept[i];
        }
    }
    return alike;
}

bool arc_turn_seconds(double *seconds, double *error_s, const struct arc_list *arcs,
                      const bool *is_whole, const struct wcs *wcs)
{
    struct swept *swept = malloc(((size_t)arcs->count + 1) * sizeof *swept);
    double *scratch = malloc(((size_t)arcs->count + 1) * sizeof *scratch);
    double turn_deg = 0, error_deg = 0;
    int whole = 0, along = 0;
    bool alike = swept && scratch;
    for (int i = 0; alike && i < arcs->count; i++) {
        if (is_whole[i]) {
            whole++;
            along += sweep(&swept[along], &arcs->arc[i], arcs->error_px, wcs);
        }
    }
    if (alike) {
        along = keep_alike(swept, along, arcs->error_px, scratch);
        alike = whole >= LEAST_WHOLE && 10 * along >= 7 * whole;
    }
    if (alike) {
        mean_turn(&turn_deg, &error_deg, swept, along, arcs->error_px, scratch);
    }
    free(swept);
    free(scratch);
    *seconds = turn_deg / SIDEREAL_DEG_S;
    *error_s = error_deg / SIDEREAL_DEG_S;
    return alike && turn_deg > 0;
}
