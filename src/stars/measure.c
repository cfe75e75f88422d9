#include "stars/measure.h"

#include "base/elementary.h"
#include "base/median.h"
#include "base/units.h"
#include "stars/gaussian.h"
#include "stars/trail_fit.h"

#include <math.h>

#define SHARE 0.25        /* of the height, down to which light is summed */
#define SHARE_CLIPPED 0.2 /* the same of a saturated star, whose height says little */
#define SHARE_CORE 0.75   /* of the height: the part of a broad source that is its centre */
#define CLIPPED_FROM 4    /* full pixels that make a star saturated */
#define BROAD 2.5         /* times a star's area at half the height */
#define MOST_STEPS 6      /* of the centroid */
#define LEAST_GROUND 1.0  /* noises */
#define LN_2 0.69314718055994531

enum { DIRECTIONS = 16 };

/* Cosines of sixteenths of a turn; the sine is the one four earlier. */
static const double ring_cosine[DIRECTIONS] = {
    1,  0.92387953251128674,  0.70710678118654752,  0.38268343236508977,
    0,  -0.38268343236508977, -0.70710678118654752, -0.92387953251128674,
    -1, -0.92387953251128674, -0.70710678118654752, -0.38268343236508977,
    0,  0.38268343236508977,  0.70710678118654752,  0.92387953251128674};

/* Median of the relief on an ellipse. */
static double ring_level(const struct relief *r, double cx, double cy, double rx, double ry)
{
    double level[DIRECTIONS];
    int n = 0;
    for (int k = 0; k < DIRECTIONS; k++) {
        int x = (int)lround(cx + rx * ring_cosine[k]);
        int y = (int)lround(cy + ry * ring_cosine[(k + 12) % DIRECTIONS]);
        if (x >= 0 && y >= 0 && x < r->width && y < r->height) {
            level[n++] = relief_level(r, x, y);
        }
    }
    return median_of(level, n);
}

/* Variance of a star in the relief: its own and the filter's. */
static double smoothed_variance(const struct profile *p)
{
    return 2 * profile_width(p) * profile_width(p);
}

/* Walks outwards to where the steepest fall has levelled off. */
static void find_edge(struct source *s, const struct relief *r, const struct profile *p)
{
    static const double radius[] = {0, 1, 2, 3, 4, 5.5, 7.5, 10, 13.5, 18, 24, 32, 43, 57, 76};
    enum { rings = sizeof radius / sizeof *radius };
    double before = s->height, steepest = 0, drop = 0, level = before;
    int k = 1;
    for (; k < rings; k++) {
        level = ring_level(r, s->peak_x, s->peak_y, radius[k], radius[k]);
        double fall = before - level;
        before = level;
        steepest = fmax(steepest, fall / (radius[k] - radius[k - 1]));
        drop = fmax(drop, fall);
        if (fall < 0.15 * drop && s->height - level > MEASURE_ISOPHOTE) {
            break;
        }
    }
    s->reach = radius[k < rings ? k : rings - 1];
    s->ground = fmax(level, 0);
    /* The steepest fall of a Gaussian is 0.607 of its height a sigma. */
    double stars = 0.607 * (s->height - s->ground) / sqrt(smoothed_variance(p));
    s->edge = stars > 0 ? steepest / stars : 0;
}

void measure_surround(struct source *s, const struct relief *r, const struct profile *p)
{
    double margin = 1 + sqrt(smoothed_variance(p) * 2);
    double beside =
        ring_level(r, (s->left + s->right) / 2.0, (s->upper + s->lower) / 2.0,
                   (s->right - s->left) / 2.0 + margin, (s->lower - s->upper) / 2.0 + margin);
    /* A Gaussian's area above the isophote grows with the logarithm of its height. */
    double star = 2 * PI * smoothed_variance(p) * elementary_log(s->height / MEASURE_ISOPHOTE);
    s->ground = s->reach = s->edge = 0;
    if (s->pixels > BROAD * (star + 4)) {
        find_edge(s, r, p);
    }
    /* A ring's median scatters by nearly half a noise: what is less tells nothing. */
    s->ground = fmax(s->ground, beside > LEAST_GROUND ? beside : 0);
    s->height -= s->ground;
}

struct sums {
    double light, x, y, xx, xy, yy;
};

static void add_pixel(struct sums *t, double v, double dx, double dy)
{
    t->light += v;
    t->x += v * dx;
    t->y += v * dy;
    t->xx += v * dx * dx;
    t->xy += v * dx * dy;
    t->yy += v * dy * dy;
}

static struct profile moments(const struct sums *t)
{
    struct profile p = {0, 0, 0};
    if (t->light > 0) {
        double x = t->x / t->light, y = t->y / t->light;
        p.xx = t->xx / t->light - x * x;
        p.xy = t->xy / t->light - x * y;
        p.yy = t->yy / t->light - y * y;
    }
    return p;
}

/* Pixels are listed row by row: the row that one is in, from the one before. */
struct row_walk {
    int start, y, width; /* index of the row's first pixel */
};

static struct row_walk walk_from(const struct source *s, const struct plane *plane)
{
    return (struct row_walk){s->upper * plane->width, s->upper, plane->width};
}

static void walk_to(struct row_walk *walk, int pixel)
{
    while (pixel - walk->start >= walk->width) {
        walk->start += walk->width;
        walk->y++;
    }
}

/* What all pixels tell that are above the isophote, each counted the same. */
static void survey_pixels(struct source *s, const struct plane *plane, const struct profile *p)
{
    double full = plane->full > 0 ? 0.985 * (double)plane->full : INFINITY;
    double half = s->ground + s->height / 2;
    int core = 0;
    struct sums shape = {0};
    struct row_walk walk = walk_from(s, plane);
    s->clipped = 0;
    for (int i = 0; i < s->pixels; i++) {
        int at = s->pixel[i];
        walk_to(&walk, at);
        s->clipped += (double)plane->value[at] >= full;
        core += (double)s->level[i] >= half;
        add_pixel(&shape, 1, at - walk.start - s->peak_x, walk.y - s->peak_y);
    }
    s->outline = moments(&shape);
    s->broad =
        s->clipped >= CLIPPED_FROM || core > BROAD * 2 * PI * LN_2 * smoothed_variance(p) + 4;
}

/* The level of the relief down to which the source's light is summed. */
static double lowest_level(const struct source *s)
{
    if (s->clipped >= CLIPPED_FROM) {
        return SHARE_CLIPPED * (s->height + s->ground);
    }
    /* With a limited reach the ground was measured, else it is only the ring about the isophote. */
    double base = s->reach > 0 ? s->ground : 0;
    return base + fmax(SHARE * s->height, base > 1 ? MEASURE_ISOPHOTE : 0);
}

/* Returns the index of the highest pixel. */
static int sum_pixels(struct source *s, const struct plane *plane, double sky)
{
    double lowest = lowest_level(s), core = s->ground + SHARE_CORE * s->height;
    double reach2 = s->reach > 0 ? s->reach * s->reach : INFINITY;
    struct sums all = {0}, top = {0};
    int highest = s->pixel[0];
    struct row_walk walk = walk_from(s, plane);
    s->peak = 0;
    for (int i = 0; i < s->pixels; i++) {
        int at = s->pixel[i];
        walk_to(&walk, at);
        double dx = at - walk.start - s->peak_x, dy = walk.y - s->peak_y;
        double v = (double)plane->value[at] - sky, level = (double)s->level[i];
        if (!(v > 0) || level < lowest || dx * dx + dy * dy > reach2) {
            continue;
        }
        if (v > s->peak) {
            s->peak = v;
            highest = at;
        }
        add_pixel(&all, v, dx, dy);
        if (level > core) {
            /* Weights that begin at zero: a pixel more or less on the rim must not matter. */
            add_pixel(&top, level - core, dx, dy);
        }
    }
    s->light = all.light;
    s->shape = moments(&all);
    const struct sums *centre = s->broad && top.light > 0 ? &top : &all;
    s->x = s->peak_x + (centre->light > 0 ? centre->x / centre->light : 0);
    s->y = s->peak_y + (centre->light > 0 ? centre->y / centre->light : 0);
    return highest;
}

/* Adds the light that the isophote leaves out: of a Gaussian cut at share t of its height in the
 * relief, where it is wider by the root of two, t squared lies outside. */
static double complete(const struct source *s)
{
    double share = fmin(fmax(MEASURE_ISOPHOTE / s->height, SHARE), 0.7);
    return s->light / (1 - share * share);
}

/* Sums of the plane about a place under the profile's weight. */
struct window {
    double light, norm, weight, dx, dy;
    double highest_weight;
};

/* One row of the window, as far as it lies in the plane. */
static void look_along(struct window *w, const struct gaussian_grid *grid, int row,
                       const struct plane *plane, double sky, double x, double y)
{
    int j = grid->upper + row, first = grid->left < 0 ? -grid->left : 0;
    int end = plane->width - grid->left < grid->columns ? plane->width - grid->left : grid->columns;
    const float *value = plane->value + (size_t)j * (size_t)plane->width;
    const double *weight = grid->value + row * grid->columns;
    double light = 0;
    for (int i = first; i < end; i++) {
        double v = (double)value[grid->left + i] - sky, g = isfinite(v) ? weight[i] : 0;
        double gv = g > 0 ? g * v : 0;
        w->norm += g * g;
        w->weight += g;
        light += gv;
        w->dx += gv * (grid->left + i - x);
    }
    w->light += light;
    w->dy += light * (j - y);
}

static struct window look(const struct plane *plane, const struct profile *p, double sky,
                          int highest, double x, double y)
{
    struct window w = {0};
    struct gaussian_grid grid;
    int reach_x = (int)fmin(ceil(3 * sqrt(p->xx)), GAUSSIAN_MOST_REACH);
    int reach_y = (int)fmin(ceil(3 * sqrt(p->yy)), GAUSSIAN_MOST_REACH);
    gaussian_fill(&grid, p, x, y, reach_x, reach_y);
    for (int j = 0; j < grid.rows; j++) {
        if (grid.upper + j >= 0 && grid.upper + j < plane->height) {
            look_along(&w, &grid, j, plane, sky, x, y);
        }
    }
    int i = highest % plane->width - grid.left, j = highest / plane->width - grid.upper;
    w.highest_weight = i >= 0 && j >= 0 && i < grid.columns && j < grid.rows
                           ? grid.value[j * grid.columns + i]
                           : 0;
    return w;
}

/* The centroid under a window of the star's own shape, which is as good as fitting the profile.
 * With window and star alike the weighted mean moves half the way, hence the 2. */
static void fit_profile(struct source *s, const struct plane *plane, const struct profile *p,
                        double sky, int highest)
{
    double x = s->peak_x, y = s->peak_y, move = 1;
    struct window w = look(plane, p, sky, highest, x, y);
    for (int step = 0; step < MOST_STEPS && !s->broad && w.light > 0 && move > 0.002; step++) {
        double mx = 2 * w.dx / w.light, my = 2 * w.dy / w.light;
        if (!(elementary_length(x + mx - s->peak_x, y + my - s->peak_y) < 2)) {
            break; /* a neighbour pulls: the pixels' own centroid stays */
        }
        x += mx;
        y += my;
        move = elementary_length(mx, my);
        w = look(plane, p, sky, highest, x, y);
        s->x = x;
        s->y = y;
    }
    s->fit = (struct profile_fit){sky, w.light, w.norm, w.weight, w.highest_weight, highest};
}

/* Light with all pixels, and without the highest. */
static void weigh_fit(struct source *s, const struct plane *plane)
{
    const struct profile_fit *fit = &s->fit;
    double g = fit->highest_weight, norm = fit->norm - g * g;
    double light = fit->light - g * ((double)plane->value[fit->highest] - fit->sky);
    s->profile_light = fit->norm > 0 ? fit->light / fit->norm : 0;
    double other = norm > 0 ? light / norm : 0;
    s->rest = s->profile_light > 0 ? other / s->profile_light : 0;
}

static bool is_placed(const struct source *s, const struct source *known, int highest)
{
    return known && !s->broad && !known->broad && known->fit.highest == highest;
}

static void take_fit(struct source *s, const struct source *known, double sky)
{
    s->x = known->x;
    s->y = known->y;
    s->fit = known->fit;
    s->fit.light -= (sky - known->fit.sky) * known->fit.weight;
    s->fit.sky = sky;
}

/* Whether a source's light lies as the frame's trails do; that of two stars does not. */
static bool is_alike(const struct trail *own, const struct trail *frame)
{
    double cosine = own->along_x * frame->along_x + own->along_y * frame->along_y;
    return fabs(cosine) > 0.9 && own->sigma < 1.5 * frame->sigma;
}

/* Length and direction are the source's own: both change over a wide picture. */
static void fit_trail(struct source *s, const struct plane *plane, const struct profile *p,
                      double sky)
{
    struct trail frame, own;
    if (!s->broad && trail_of_moments(&frame, p) && trail_of_moments(&own, &s->shape) &&
        is_alike(&own, &frame)) {
        trail_fit(&s->x, &s->y, plane, &own, sky);
    }
}

void measure_source(struct source *s, const struct plane *plane, const struct relief *r,
                    const struct profile *p, const struct source *known)
{
    double sky =
        relief_sky(r, s->peak_x, s->peak_y) + s->ground * relief_noise(r, s->peak_x, s->peak_y);
    survey_pixels(s, plane, p);
    int highest = sum_pixels(s, plane, sky);
    s->whole = complete(s);
    if (is_placed(s, known, highest)) {
        take_fit(s, known, sky);
    } else {
        fit_profile(s, plane, p, sky, highest);
        fit_trail(s, plane, p, sky);
    }
    weigh_fit(s, plane);
}
