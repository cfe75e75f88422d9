/* health/health_light.c: magnitudes from the stars that were matched. */
#include "health/health_parts.h"

#include "base/clamp.h"
#include "base/least_squares.h"
#include "base/median.h"
#include "base/units.h"
#include "stars/aperture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_STARS = 300, LEAST_STARS = 5, LEAST_PART = 3, LEAST_PARTS = 3 };
enum { ZERO, COLOUR, LENS, TERMS };

/* What is believed beforehand, for few stars would leave it open: cameras see red stars brighter,
 * and corners get less light (common practice, no source). Magnitudes, with their deviations. */
static const struct {
    double value, error;
} prior[TERMS] = {[COLOUR] = {.value = 0.2, .error = 0.3}, [LENS] = {.value = -0.3, .error = 0.3}};

static const double known_error = 0.15; /* of the lens's term: below, the stars have spoken */

static const double usual_colour = 0.6;   /* B-V about the Sun's */
static const double aperture_fwhm = 3;    /* radius */
static const double aperture_loss = 0.02; /* magnitudes that the faint rim beyond it may hold */
static const double least_snr = 12;
static const double most_peak = 0.8;      /* of full scale: above, stars lose light */
static const double least_scatter = 0.05; /* of a star, magnitudes: no camera sees in V */
static const double outlier = 3;          /* standard deviations */
static const double slope_most = 0.12;    /* of the residuals by magnitude, in linear pictures */
static const double limit_snr = 5;
static const double shallow_snr = 60; /* up to which a curved scale is straight enough */

struct lit_star {
    double v_mag, colour; /* B-V less the usual */
    double zero;          /* V + 2.5 log10(light) */
    double radius2;       /* from the picture's middle, in halves of its diagonal, squared */
    double rest;          /* of the fit, magnitudes: above 0 too bright */
    int part;
    bool used;
};

struct photometry {
    struct lit_star star[MOST_STARS];
    int stars;
    double value[TERMS], error[TERMS], covariance[TERMS * TERMS];
    double scatter; /* of the stars used, magnitudes */
};

static bool is_linear_file(const struct frame *frame)
{
    return frame->luminance.full != 255;
}

/* Trail at a star: the drift's where the camera stands still, else the frame's common one. */
static void trail_at(double *dx, double *dy, const struct frame_health *h,
                     const struct health_input *input, const struct star *s)
{
    double length = isfinite(h->trail_px) ? h->trail_px : 0;
    double angle = isfinite(h->trail_angle_deg) ? h->trail_angle_deg * RAD_PER_DEG : 0;
    bool drifts = isfinite(h->drift_px) && !h->follows;
    if (!drifts || !health_drift(dx, dy, &input->solution->wcs, s->x, s->y, h->exposure_s)) {
        *dx = length * cos(angle);
        *dy = length * sin(angle);
    }
}

static bool measure_star(struct lit_star *out, const struct frame_health *h,
                         const struct health_input *input, const struct match_pair *pair)
{
    const struct star *s = &input->list->star[pair->star];
    const struct index_star *known = &input->index->star[pair->catalogue];
    const struct plane *plane = &input->frame->luminance;
    double dx, dy, half = hypot(input->list->width, input->list->height) / 2;
    double full = plane->full > 0 ? most_peak * (double)plane->full : (double)INFINITY;
    if (s->saturated || s->snr < least_snr || s->peak + input->list->sky > full ||
        known->colour == INDEX_NO_COLOUR) {
        return false;
    }
    trail_at(&dx, &dy, h, input, s);
    double light =
        aperture_light(NULL, plane, s->x, s->y, dx, dy, aperture_fwhm * fmax(h->fwhm_px, 1.5));
    if (!(light > 0)) {
        return false;
    }
    double time = isfinite(h->exposure_s) && h->exposure_s > 0 ? h->exposure_s : 1;
    double r = hypot(s->x - input->list->width / 2, s->y - input->list->height / 2) / half;
    *out = (struct lit_star){.v_mag = known->mag / 1000.0,
                             .colour = known->colour / 1000.0 - usual_colour,
                             .radius2 = r * r,
                             .part = health_part(input->list, s->x, s->y),
                             .used = true};
    out->zero = out->v_mag + 2.5 * log10(light / time);
    return true;
}

static void measure_stars(struct photometry *p, const struct frame_health *h,
                          const struct health_input *input)
{
    for (int i = 0; i < input->solution->matched && p->stars < MOST_STARS; i++) {
        p->stars += measure_star(&p->star[p->stars], h, input, &input->solution->pair[i]);
    }
}

static void fill_row(double row[TERMS], const struct lit_star *s)
{
    row[ZERO] = 1;
    row[COLOUR] = s->colour;
    row[LENS] = s->radius2;
}

/* Median size of the residuals, as a standard deviation. */
static double find_scatter(struct photometry *p, double *scratch)
{
    int n = 0;
    for (int i = 0; i < p->stars; i++) {
        struct lit_star *s = &p->star[i];
        double row[TERMS];
        fill_row(row, s);
        s->rest = s->zero;
        for (int k = 0; k < TERMS; k++) {
            s->rest -= p->value[k] * row[k];
        }
        scratch[n++] = fabs(s->rest);
    }
    return fmax(median_of(scratch, n) / 0.6745, least_scatter);
}

static bool fit_once(struct photometry *p, int *used)
{
    struct least_squares ls = {.n = TERMS};
    double row[TERMS];
    *used = 0;
    for (int i = 0; i < p->stars; i++) {
        fill_row(row, &p->star[i]);
        if (p->star[i].used) {
            least_squares_add(&ls, row, p->star[i].zero, 1 / (p->scatter * p->scatter));
            ++*used;
        }
    }
    for (int k = COLOUR; k < TERMS; k++) {
        memset(row, 0, sizeof row);
        row[k] = 1;
        least_squares_add(&ls, row, prior[k].value, 1 / (prior[k].error * prior[k].error));
    }
    if (*used < LEAST_STARS || !least_squares_solve(p->value, p->covariance, &ls)) {
        return false;
    }
    for (int k = 0; k < TERMS; k++) {
        p->error[k] = sqrt(p->covariance[k * TERMS + k]);
    }
    return true;
}

/* From the median on, stars farther off than some deviations are left out: blends, variables. */
static bool fit(struct photometry *p, int *used)
{
    double scratch[MOST_STARS];
    if (p->stars < LEAST_STARS) {
        return false;
    }
    for (int i = 0; i < p->stars; i++) {
        double row[TERMS];
        fill_row(row, &p->star[i]);
        scratch[i] =
            p->star[i].zero - prior[COLOUR].value * row[COLOUR] - prior[LENS].value * row[LENS];
    }
    p->value[ZERO] = median_of(scratch, p->stars);
    p->value[COLOUR] = prior[COLOUR].value;
    p->value[LENS] = prior[LENS].value;
    for (int pass = 0; pass < 5; pass++) {
        p->scatter = find_scatter(p, scratch);
        for (int i = 0; i < p->stars; i++) {
            p->star[i].used = fabs(p->star[i].rest) < outlier * p->scatter;
        }
        if (!fit_once(p, used)) {
            return false;
        }
    }
    p->scatter = find_scatter(p, scratch);
    return true;
}

/* Brighter stars gain less light where the scale is bent. */
static bool is_straight(const struct photometry *p, int used)
{
    double x = 0, y = 0, xx = 0, xy = 0;
    for (int i = 0; i < p->stars; i++) {
        if (p->star[i].used) {
            x += p->star[i].v_mag / used;
            y += p->star[i].rest / used;
        }
    }
    for (int i = 0; i < p->stars; i++) {
        if (p->star[i].used) {
            double dx = p->star[i].v_mag - x;
            xx += dx * dx;
            xy += dx * (p->star[i].rest - y);
        }
    }
    double error = p->scatter / sqrt(fmax(xx, 1e-9));
    return fabs(xy / fmax(xx, 1e-9)) < slope_most + 2 * error;
}

static void note_parts(struct frame_health *h, const struct photometry *p)
{
    double rest[MOST_STARS], brightest = -(double)INFINITY, dimmest = (double)INFINITY;
    int known = 0;
    for (int part = 0; part < HEALTH_ROWS * HEALTH_COLUMNS; part++) {
        int n = 0;
        for (int i = 0; i < p->stars; i++) {
            if (p->star[i].part == part) {
                rest[n++] = p->star[i].rest;
            }
        }
        if (n < LEAST_PART) {
            continue;
        }
        /* A median of few stars is no cloud: what its standard error explains does not count. */
        double middle = median_of(rest, n), error = 1.2533 * p->scatter / sqrt(n);
        brightest = fmax(brightest, middle - error);
        if (middle + error < dimmest) {
            dimmest = middle + error;
            h->dim_part = part;
        }
        known++;
    }
    h->uneven_mag = known >= LEAST_PARTS ? fmax(brightest - dimmest, 0) : (double)NAN;
}

/* Of the zero point at a distance from the middle, squared. The scatter of few stars is itself
 * uncertain. */
static double zero_error_at(const struct photometry *p, int used, double radius2)
{
    double variance = p->covariance[ZERO * TERMS + ZERO] +
                      2 * radius2 * p->covariance[ZERO * TERMS + LENS] +
                      radius2 * radius2 * p->covariance[LENS * TERMS + LENS];
    return hypot(aperture_loss, sqrt(fmax(variance, 0) * (1 + 6.0 / used)));
}

static void note_fit(struct frame_health *h, const struct photometry *p, int used)
{
    h->zero_mag = p->value[ZERO];
    h->zero_error = zero_error_at(p, used, 0);
    h->zero_stars = used;
    h->colour_term = p->value[COLOUR];
    if (p->error[LENS] < known_error) {
        h->vignetting = 1 - pow(10, 0.4 * fmin(p->value[LENS], 0));
    }
    note_parts(h, p);
}

/* V at which a star of usual colour would have 5 times the noise: the faint end of the list's own
 * measure, which is straight even in stretched pictures. */
static void note_limit(struct frame_health *h, const struct health_input *input)
{
    /* Of rendered frames it is off by this, however many stars there are. */
    const double method_mag = 0.17;
    double mag[MOST_STARS], term = isfinite(h->colour_term) ? h->colour_term : 0;
    int n = 0;
    for (int i = 0; i < input->solution->matched && n < MOST_STARS; i++) {
        const struct match_pair *pair = &input->solution->pair[i];
        const struct star *s = &input->list->star[pair->star];
        const struct index_star *known = &input->index->star[pair->catalogue];
        if (s->saturated || (!h->linear && s->snr > shallow_snr)) {
            continue;
        }
        double colour =
            known->colour == INDEX_NO_COLOUR ? 0 : known->colour / 1000.0 - usual_colour;
        mag[n++] = known->mag / 1000.0 - term * colour + 2.5 * log10(s->snr / limit_snr);
    }
    if (n >= LEAST_STARS) {
        h->limit_mag = median_of(mag, n);
        h->limit_error = (float)hypot(health_median_error(mag, n, h->limit_mag), method_mag);
    }
}

static void note_sky(struct frame_health *h, const struct health_input *input)
{
    const struct frame *frame = input->frame;
    double black = input->black_known ? input->black : 0;
    h->black_known = input->black_known || frame->can.camera_raw;
    h->sky_level = h->look.level - black;
    if (frame->luminance.full > 0) {
        double share = h->sky_level / ((double)frame->luminance.full - black);
        /* A sky around zero has noise on either side of it; far beyond, it was shifted or scaled.
         */
        if (share > -0.01 && share < 1.01) {
            h->sky_share = clamp(share, 0, 1);
        }
    }
    int saturated = 0;
    for (int i = 0; i < input->list->count; i++) {
        saturated += input->list->star[i].saturated;
    }
    if (input->list->count > 0) {
        h->saturated_share = (double)saturated / input->list->count;
    }
}

/* Half of a picture's pixels are nearer to the middle; squared, in halves of its diagonal. */
static double median_radius2(int width, int height)
{
    enum { SIDE = 48 };
    double radius2[SIDE * SIDE], w = width, h = height;
    for (int i = 0; i < SIDE * SIDE; i++) {
        double x = (i % SIDE + 0.5) / SIDE * w, y = (i / SIDE + 0.5) / SIDE * h;
        radius2[i] = (x * x + y * y) / (w * w + h * h);
    }
    return median_of(radius2, SIDE * SIDE);
}

/* The level is the whole picture's, the zero point the middle's: the lens dims the sky in between
 * as it does stars. */
static void note_sky_mag(struct frame_health *h, const struct photometry *p, int used,
                         const struct wcs *wcs)
{
    double scale = wcs_scale_arcsec(wcs);
    double time = isfinite(h->exposure_s) && h->exposure_s > 0 ? h->exposure_s : 1;
    if (h->black_known && h->sky_level > 0) {
        double radius2 = median_radius2(wcs->width, wcs->height);
        h->sky_mag = h->zero_mag + p->value[LENS] * radius2 -
                     2.5 * log10(h->sky_level / time / (scale * scale));
        h->sky_mag_error = (float)zero_error_at(p, used, radius2);
    }
}

int health_add_light(struct frame_health *health, const struct health_input *input,
                     struct error *err)
{
    note_sky(health, input);
    health->linear = is_linear_file(input->frame);
    health->look.clipped = health->look.clipped && health->linear;
    if (!health->solved || health->arcs_s > 0) {
        return 0;
    }
    struct photometry *p = calloc(1, sizeof *p);
    if (!p) {
        return error_memory(err);
    }
    int used = 0;
    /* Of a double star's two images one would be left out. */
    if (health->linear && !health->look.clipped && !(health->double_px > 0)) {
        measure_stars(p, health, input);
        bool fitted = fit(p, &used);
        health->linear = !fitted || is_straight(p, used);
        if (fitted && health->linear) {
            note_fit(health, p, used);
            note_sky_mag(health, p, used, &input->solution->wcs);
        }
    }
    note_limit(health, input);
    free(p);
    return 0;
}
