#include "stars/shape.h"

#include "base/elementary.h"
#include "base/elementary_lanes.h"
#include "base/least_squares.h"
#include "base/units.h"
#include "base/wider.h"

#include <math.h>
#include <string.h>

#define FWHM_OF_SIGMA 2.354820045 /* 2 sqrt(2 ln 2) */

enum { COLUMNS = 4, ROWS = 3, EACH = SHAPES_MOST / (COLUMNS * ROWS) };
enum { X, Y, MEAN, Q1, Q2, HEIGHT, GROUND, UNKNOWNS };
enum { MOST_PIXELS = 2400, MOST_STEPS = 25, ENOUGH = 30 };
enum { AT_ONCE = LANES_MOST, LANES = 4 }; /* pixels held against the model in a go; side by side */

static const double full_share = 0.8; /* of full scale: above, sensors and pictures bend */

/* What makes a neighbour a nuisance: its share of the flux, and how many widths away it counts. In
 * crowds nearly every star has one and all the others count as noise, so that the second look is
 * lenient. */
static const struct {
    double share, widths, least_snr;
} looks[] = {{0.1, 5, 15}, {0.5, 3, 6}};
static const double least_variance = 0.1;

double shape_fwhm(double variance)
{
    return FWHM_OF_SIGMA * sqrt(fmax(variance, 0));
}

double shape_variance_across(const struct star_shape *shape, double cos_2a, double sin_2a)
{
    double along = shape->q1 * cos_2a + shape->q2 * sin_2a;
    return shape->variance + (hypot(shape->q1, shape->q2) - along) / 2;
}

double shape_trail_px(double q1, double q2)
{
    return sqrt(12 * hypot(q1, q2));
}

double shape_trail_angle_deg(double q1, double q2)
{
    return q1 == 0 && q2 == 0 ? 0 : atan2(q2, q1) / 2 * DEG_PER_RAD;
}

double shape_elongation(double variance, double q1, double q2)
{
    return sqrt(1 + hypot(q1, q2) / variance);
}

/* The pixels about one star, plane pixels. */
struct patch {
    int count;
    float x[MOST_PIXELS], y[MOST_PIXELS], value[MOST_PIXELS];
};

/* p[MEAN] is the mean of the variances along and across, so that the model is smooth where the
 * trail vanishes. Thousands of pixels are held against one model: what does not depend on the pixel
 * is worked out once. */
struct model {
    double across;    /* variance */
    double q, length; /* of the trail */
    double cos_a, sin_a;
    double cos_2a, sin_2a;
    double per_across, per_length, per_root; /* 1 / across, length, sqrt(2 across) */
    double peak;                             /* of the Gaussian of unit light */
    double norm;                             /* 1 / value of the unit trail in its middle */
};

static PLAIN double gauss(const struct model *m, double t)
{
    return m->peak * elementary_exp_lane(-t * t / 2 * m->per_across);
}

/* Trail of unit light along its line; between: what lies of its error functions at a pixel. by_u
 * and by_uu are its derivatives. */
static PLAIN double along(double *by_u, double *by_uu, double *by_length, const struct model *m,
                          double u, double between)
{
    double fore = u + m->length / 2, aft = u - m->length / 2;
    double before = gauss(m, fore), after = gauss(m, aft);
    double value = between / 2 * m->per_length;
    *by_u = (before - after) * m->per_length;
    *by_uu = (aft * after - fore * before) * m->per_across * m->per_length;
    *by_length = ((before + after) / 2 - value) * m->per_length;
    return value;
}

static bool model_make(struct model *m, const double p[UNKNOWNS])
{
    m->q = hypot(p[Q1], p[Q2]);
    m->across = p[MEAN] - m->q / 2;
    if (!(m->across > least_variance)) {
        return false;
    }
    double angle = m->q > 0 ? atan2(p[Q2], p[Q1]) / 2 : 0;
    m->q = fmax(m->q, 1e-4); /* shorter, it could not be seen, nor divided by */
    m->length = sqrt(12 * m->q);
    m->cos_a = cos(angle);
    m->sin_a = sin(angle);
    m->cos_2a = m->cos_a * m->cos_a - m->sin_a * m->sin_a;
    m->sin_2a = 2 * m->cos_a * m->sin_a;
    m->per_across = 1 / m->across;
    m->per_length = 1 / m->length;
    m->per_root = 1 / sqrt(2 * m->across);
    m->peak = 1 / sqrt(2 * PI * m->across);
    m->norm = m->length / (elementary_erf(m->length / 2 * m->per_root) * m->peak);
    return true;
}

/* Some pixels held against the model: the derivatives by all unknowns, and what is left. */
struct slopes {
    double by[UNKNOWNS][AT_ONCE], rest[AT_ONCE];
};

/* The model at so many pixels, from the first-th on. Its derivatives by all unknowns but height and
 * ground are those of a share of the height. Derivatives by the variance follow from the heat
 * equation; that the height is kept while the shape changes is left out, which costs a step or two
 * only. */
static PLAIN void find_slopes_plain(struct slopes *restrict s, const struct patch *restrict patch,
                                    int first, int n, const struct model *model,
                                    const double p[UNKNOWNS])
{
    const struct model m = *model;
    const double x = p[X], y = p[Y], height = p[HEIGHT], ground = p[GROUND];
    double u_at[AT_ONCE], w_at[AT_ONCE], fore[AT_ONCE], aft[AT_ONCE], between[AT_ONCE];
    for (int i = 0; i < n; i++) {
        double dx = (double)patch->x[first + i] - x, dy = (double)patch->y[first + i] - y;
        u_at[i] = dx * m.cos_a + dy * m.sin_a;
        w_at[i] = dy * m.cos_a - dx * m.sin_a;
        between[i] = (u_at[i] + m.length / 2) * m.per_root;
        s->rest[i] = (u_at[i] - m.length / 2) * m.per_root;
    }
    elementary_erf_lanes(fore, between, n);
    elementary_erf_lanes(aft, s->rest, n);
    for (int i = 0; i < n; i++) {
        double u = u_at[i], w = w_at[i], by_u, by_uu, by_length;
        double t = along(&by_u, &by_uu, &by_length, &m, u, fore[i] - aft[i]);
        double g = gauss(&m, w) * m.norm, value = g * t, in_w = w * m.per_across;
        double f_u = g * by_u, f_w = -in_w * value;
        double f_ww = (w * in_w - 1) * m.per_across * value, f_uu = g * by_uu;
        double f_variance = (f_uu + f_ww) / 2, f_turn = f_u * w - f_w * u;
        double f_q = g * by_length * 6 * m.per_length - f_variance / 2;
        double turned = f_turn / (2 * m.q);
        s->by[X][i] = -(f_u * m.cos_a - f_w * m.sin_a) * height;
        s->by[Y][i] = -(f_u * m.sin_a + f_w * m.cos_a) * height;
        s->by[MEAN][i] = f_variance * height;
        s->by[Q1][i] = (f_q * m.cos_2a - turned * m.sin_2a) * height;
        s->by[Q2][i] = (f_q * m.sin_2a + turned * m.cos_2a) * height;
        s->by[HEIGHT][i] = value;
        s->by[GROUND][i] = 1;
        s->rest[i] = (double)patch->value[first + i] - ground - height * value;
    }
}

WIDER(find_slopes,
      (struct slopes *restrict s, const struct patch *restrict patch, int first, int n,
       const struct model *model, const double p[UNKNOWNS]),
      (s, patch, first, n, model, p))

/* In lanes, which do not wait for each other; n is a multiple of them. */
static PLAIN double product_sum(const double *a, const double *b, int n)
{
    double lane[LANES] = {0};
    for (int i = 0; i < n; i += LANES) {
        for (int k = 0; k < LANES; k++) {
            lane[k] += a[i + k] * b[i + k];
        }
    }
    return (lane[0] + lane[1]) + (lane[2] + lane[3]);
}

/* Adds to the equations and to the sum of squares. */
static PLAIN void add_slopes_plain(struct least_squares *ls, double *sum, const struct slopes *s,
                                   int n)
{
    for (int j = 0; j < UNKNOWNS; j++) {
        for (int k = 0; k <= j; k++) {
            ls->normal[j][k] += product_sum(s->by[j], s->by[k], n);
        }
        ls->right[j] += product_sum(s->by[j], s->rest, n);
    }
    *sum += product_sum(s->rest, s->rest, n);
}

WIDER(add_slopes, (struct least_squares * ls, double *sum, const struct slopes *s, int n),
      (ls, sum, s, n))

/* Sum of the squared residuals, and the equations for a step that makes them smaller. */
static double compare(struct least_squares *ls, const struct patch *patch, const struct model *m,
                      const double p[UNKNOWNS])
{
    struct slopes s;
    double sum = 0;
    least_squares_start(ls, UNKNOWNS);
    for (int first = 0; first < patch->count; first += AT_ONCE) {
        int n = patch->count - first < AT_ONCE ? patch->count - first : AT_ONCE, end = n;
        find_slopes(&s, patch, first, n, m, p);
        for (; end % LANES != 0; end++) { /* what fills the last lanes adds nothing */
            for (int k = 0; k < UNKNOWNS; k++) {
                s.by[k][end] = 0;
            }
            s.rest[end] = 0;
        }
        add_slopes(ls, &sum, &s, end);
    }
    return sum;
}

/* Of equations that stay as they are. */
static bool solve_step(double step[UNKNOWNS], struct least_squares *ls, double damping)
{
    double diagonal[UNKNOWNS];
    for (int k = 0; k < UNKNOWNS; k++) {
        diagonal[k] = ls->normal[k][k];
        ls->normal[k][k] *= 1 + damping;
    }
    bool solved = least_squares_solve(step, NULL, ls);
    for (int k = 0; k < UNKNOWNS; k++) {
        ls->normal[k][k] = diagonal[k];
    }
    return solved;
}

/* Levenberg 1944, Marquardt 1963: damped steps, kept when they help. A step that is tried is mostly
 * kept, and then its equations serve the next one. */
static bool descend(double p[UNKNOWNS], const struct patch *patch)
{
    struct model m;
    struct least_squares equations[2], *ls = &equations[0], *moved = &equations[1];
    double damping = 1e-3;
    if (!model_make(&m, p)) {
        return false;
    }
    double before = compare(ls, patch, &m, p);
    for (int n = 0; n < MOST_STEPS; n++) {
        double step[UNKNOWNS], next[UNKNOWNS], after = (double)INFINITY;
        if (!solve_step(step, ls, damping)) {
            return false;
        }
        for (int k = 0; k < UNKNOWNS; k++) {
            next[k] = p[k] + step[k];
        }
        if (model_make(&m, next)) {
            after = compare(moved, patch, &m, next);
        }
        if (after < before) {
            double gain = before - after;
            memcpy(p, next, sizeof next);
            if (gain < 1e-5 * before) {
                return true;
            }
            struct least_squares *spare = ls;
            ls = moved;
            moved = spare;
            before = after;
            damping *= 0.1;
        } else if ((damping *= 10) > 1e4) {
            return true;
        }
    }
    return true;
}

/* Where to begin: what detection measured. Its moments leave out the faint rim of the image. */
static void begin(double p[UNKNOWNS], const struct star *star, double bin)
{
    double across = 1.3 * star->size * star->size / (bin * bin), longer = star->elongation;
    double q = across * (longer * longer - 1), twice = 2 * star->angle_deg * RAD_PER_DEG;
    p[X] = (star->x - (bin - 1) / 2) / bin;
    p[Y] = (star->y - (bin - 1) / 2) / bin;
    p[MEAN] = fmax(across, 2 * least_variance) + q / 2;
    p[Q1] = q * cos(twice);
    p[Q2] = q * sin(twice);
    p[HEIGHT] = p[GROUND] = 0;
}

/* All pixels within reach of the line that the star is thought to be. */
static bool gather(struct patch *patch, const struct plane *plane, const double p[UNKNOWNS])
{
    double half = sqrt(12 * hypot(p[Q1], p[Q2])) / 2, angle = atan2(p[Q2], p[Q1]) / 2;
    double reach = 1.3 * FWHM_OF_SIGMA * sqrt(p[MEAN] - hypot(p[Q1], p[Q2]) / 2) + 1.5;
    double c = cos(angle), s = sin(angle), wide = half * fabs(c) + reach,
           high = half * fabs(s) + reach;
    int left = (int)ceil(p[X] - wide), right = (int)floor(p[X] + wide);
    int upper = (int)ceil(p[Y] - high), lower = (int)floor(p[Y] + high);
    if (left < 0 || upper < 0 || right >= plane->width || lower >= plane->height) {
        return false;
    }
    patch->count = 0;
    for (int y = upper; y <= lower; y++) {
        for (int x = left; x <= right; x++) {
            double dx = x - p[X], dy = y - p[Y];
            double u = fmax(fabs(dx * c + dy * s) - half, 0), w = dy * c - dx * s;
            float v = plane->value[(size_t)y * (size_t)plane->width + (size_t)x];
            if (u * u + w * w > reach * reach || !isfinite(v)) {
                continue;
            }
            if (patch->count == MOST_PIXELS) {
                return false;
            }
            patch->x[patch->count] = (float)x;
            patch->y[patch->count] = (float)y;
            patch->value[patch->count++] = v;
        }
    }
    return patch->count > 2 * UNKNOWNS;
}

/* Eight bits are taken as coded for a display, IEC 61966-2-1 (sRGB): such a code swells stars. */
static void linearise(struct patch *patch, const struct plane *plane)
{
    for (int i = 0; plane->full == 255 && i < patch->count; i++) {
        double share = fmax((double)patch->value[i] / 255, 0);
        patch->value[i] =
            (float)(255 * (share <= 0.04045 ? share / 12.92 : pow((share + 0.055) / 1.055, 2.4)));
    }
}

static void find_range(double *low, double *high, const struct patch *patch)
{
    *low = *high = (double)patch->value[0];
    for (int i = 1; i < patch->count; i++) {
        *low = fmin(*low, (double)patch->value[i]);
        *high = fmax(*high, (double)patch->value[i]);
    }
}

/* The plane's pixels are wider than the picture's by the binning, which is taken out again. */
static void report(struct star_shape *shape, const double p[UNKNOWNS], const struct model *m,
                   double bin)
{
    double wider = (bin * bin - 1) / 12;
    shape->x = bin * p[X] + (bin - 1) / 2;
    shape->y = bin * p[Y] + (bin - 1) / 2;
    shape->variance = fmax(bin * bin * m->across - wider, least_variance);
    shape->q1 = bin * bin * p[Q1];
    shape->q2 = bin * bin * p[Q2];
    shape->height = p[HEIGHT];
    shape->ground = p[GROUND];
    shape->light = p[HEIGHT] * m->norm * bin * bin;
}

bool shape_fit(struct star_shape *shape, const struct plane *plane, const struct star *star)
{
    struct patch patch;
    struct model m;
    double p[UNKNOWNS], first[UNKNOWNS], low, high;
    begin(first, star, plane->bin);
    /* The second time about what the first one found. */
    for (int look = 0; look < 2; look++) {
        if (!gather(&patch, plane, first)) {
            return false;
        }
        linearise(&patch, plane);
        find_range(&low, &high, &patch);
        memcpy(p, first, sizeof p);
        p[GROUND] = low;
        p[HEIGHT] = high - low;
        if (!descend(p, &patch) || hypot(p[X] - first[X], p[Y] - first[Y]) > 4) {
            return false;
        }
        memcpy(first, p, sizeof p);
    }
    if (!model_make(&m, p) || !(p[HEIGHT] > 0.3 * (high - low))) {
        return false;
    }
    report(shape, p, &m, plane->bin);
    return true;
}

/* Whether something bright enough to spoil the fit is near. The list is by brightness. */
static bool has_rival(const struct star_list *list, int i, int look)
{
    const struct star *s = &list->star[i];
    double reach = looks[look].widths * s->size * (s->elongation + 1);
    for (int k = 0; k < list->count && list->star[k].flux > looks[look].share * s->flux; k++) {
        double dx = fabs(list->star[k].x - s->x);
        if (dx < reach && k != i && hypot(dx, list->star[k].y - s->y) < reach) {
            return true;
        }
    }
    return false;
}

static bool is_usable(const struct star *s, const struct plane *plane, double sky, int look)
{
    double full = plane->full > 0 ? full_share * (double)plane->full : (double)INFINITY;
    return !s->saturated && s->snr >= looks[look].least_snr && s->peak + sky < full;
}

static int measure_once(struct star_shape *shape, const struct frame *frame,
                        const struct star_list *list, int look)
{
    int found = 0, in_zone[COLUMNS * ROWS] = {0};
    for (int i = 0; i < list->count && found < SHAPES_MOST; i++) {
        const struct star *s = &list->star[i];
        int column = (int)fmin(fmax(COLUMNS * s->x / list->width, 0), COLUMNS - 1);
        int row = (int)fmin(fmax(ROWS * s->y / list->height, 0), ROWS - 1);
        int *zone = &in_zone[row * COLUMNS + column];
        if (*zone == EACH || !is_usable(s, &frame->luminance, list->sky, look) ||
            has_rival(list, i, look) || !shape_fit(&shape[found], &frame->luminance, s)) {
            continue;
        }
        shape[found++].star = i;
        (*zone)++;
    }
    return found;
}

int shapes_measure(struct star_shape *shape, const struct frame *frame,
                   const struct star_list *list)
{
    int found = measure_once(shape, frame, list, 0);
    return found < ENOUGH ? measure_once(shape, frame, list, 1) : found;
}
