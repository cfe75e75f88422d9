#include "stars/shape.h"

#include "base/least_squares.h"
#include "base/units.h"

#include <math.h>
#include <string.h>

#define FWHM_OF_SIGMA 2.354820045 /* 2 sqrt(2 ln 2) */

enum { COLUMNS = 4, ROWS = 3, EACH = SHAPES_MOST / (COLUMNS * ROWS) };
enum { X, Y, MEAN, Q1, Q2, HEIGHT, GROUND, UNKNOWNS };
enum { MOST_PIXELS = 2400, MOST_STEPS = 25, ENOUGH = 30 };

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
 * trail vanishes. */
struct model {
    double across;    /* variance */
    double q, length; /* of the trail */
    double cos_a, sin_a;
    double norm; /* 1 / value of the unit trail in its middle */
};

static double gauss(double t, double variance)
{
    return exp(-t * t / (2 * variance)) / sqrt(2 * PI * variance);
}

/* Trail of unit light along its line; by_u and by_uu are its derivatives. */
static double along(double *by_u, double *by_uu, double *by_length, const struct model *m, double u)
{
    double half = m->length / 2, root = sqrt(2 * m->across);
    double before = gauss(u + half, m->across), after = gauss(u - half, m->across);
    double value = (erf((u + half) / root) - erf((u - half) / root)) / 2 / m->length;
    *by_u = (before - after) / m->length;
    *by_uu = (-(u + half) * before + (u - half) * after) / m->across / m->length;
    *by_length = ((before + after) / 2 - value) / m->length;
    return value;
}

static bool model_make(struct model *m, const double p[UNKNOWNS])
{
    m->q = hypot(p[Q1], p[Q2]);
    /* Too short to see, and to divide by. */
    double q = fmax(m->q, 1e-4);
    double angle = m->q > 0 ? atan2(p[Q2], p[Q1]) / 2 : 0, u, uu, l;
    m->across = p[MEAN] - m->q / 2;
    m->length = sqrt(12 * q);
    m->cos_a = cos(angle);
    m->sin_a = sin(angle);
    if (!(m->across > least_variance)) {
        return false;
    }
    m->norm = 1 / (along(&u, &uu, &l, m, 0) * gauss(0, m->across));
    return true;
}

/* Value of the model at (dx, dy) from its middle, as a share of the height, and its derivatives by
 * all unknowns but height and ground. Derivatives by the variance follow from the heat equation;
 * that the height is kept while the shape changes is left out, which costs a step or two only. */
static double model_value(double slope[UNKNOWNS], const struct model *m, double dx, double dy)
{
    double u = dx * m->cos_a + dy * m->sin_a, w = dy * m->cos_a - dx * m->sin_a;
    double by_u, by_uu, by_length, t = along(&by_u, &by_uu, &by_length, m, u);
    double g = gauss(w, m->across) * m->norm;
    double f_u = g * by_u, f_w = -w / m->across * g * t;
    double f_ww = (w * w / m->across - 1) / m->across * g * t, f_uu = g * by_uu;
    double f_variance = (f_uu + f_ww) / 2, f_turn = f_u * w - f_w * u;
    double f_q = g * by_length * 6 / m->length - f_variance / 2;
    double c2 = m->cos_a * m->cos_a - m->sin_a * m->sin_a, s2 = 2 * m->cos_a * m->sin_a;
    double q = fmax(m->q, 1e-4);
    slope[X] = -(f_u * m->cos_a - f_w * m->sin_a);
    slope[Y] = -(f_u * m->sin_a + f_w * m->cos_a);
    slope[MEAN] = f_variance;
    slope[Q1] = f_q * c2 - f_turn * s2 / (2 * q);
    slope[Q2] = f_q * s2 + f_turn * c2 / (2 * q);
    return g * t;
}

/* Sum of the squared residuals; adds the equations unless ls is NULL. */
static double compare(struct least_squares *ls, const struct patch *patch, const struct model *m,
                      const double p[UNKNOWNS])
{
    double sum = 0;
    for (int i = 0; i < patch->count; i++) {
        double slope[UNKNOWNS];
        double value =
            model_value(slope, m, (double)patch->x[i] - p[X], (double)patch->y[i] - p[Y]);
        double residual = (double)patch->value[i] - p[GROUND] - p[HEIGHT] * value;
        sum += residual * residual;
        if (ls) {
            for (int k = X; k <= Q2; k++) {
                slope[k] *= p[HEIGHT];
            }
            slope[HEIGHT] = value;
            slope[GROUND] = 1;
            least_squares_add(ls, slope, residual, 1);
        }
    }
    return sum;
}

static bool solve_step(double step[UNKNOWNS], const struct least_squares *ls, double damping)
{
    struct least_squares damped = *ls;
    for (int k = 0; k < UNKNOWNS; k++) {
        damped.normal[k][k] *= 1 + damping;
    }
    return least_squares_solve(step, NULL, &damped);
}

/* Levenberg 1944, Marquardt 1963: damped steps, kept when they help. */
static bool descend(double p[UNKNOWNS], const struct patch *patch)
{
    struct model m;
    double damping = 1e-3;
    if (!model_make(&m, p)) {
        return false;
    }
    for (int n = 0; n < MOST_STEPS; n++) {
        struct least_squares ls = {.n = UNKNOWNS};
        double step[UNKNOWNS], next[UNKNOWNS];
        double before = compare(&ls, patch, &m, p), after = (double)INFINITY;
        struct model moved;
        if (!solve_step(step, &ls, damping)) {
            return false;
        }
        for (int k = 0; k < UNKNOWNS; k++) {
            next[k] = p[k] + step[k];
        }
        if (model_make(&moved, next)) {
            after = compare(NULL, patch, &moved, next);
        }
        if (after < before) {
            memcpy(p, next, sizeof next);
            m = moved;
            damping *= 0.1;
            if (before - after < 1e-5 * before) {
                return true;
            }
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
            double dx = x - p[X], dy = y - p[Y], u = fabs(dx * c + dy * s);
            float v = plane->value[(size_t)y * (size_t)plane->width + (size_t)x];
            if (hypot(fmax(u - half, 0), dy * c - dx * s) > reach || !isfinite(v)) {
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
