#include "demo/model_stars.h"

#include "base/random.h"
#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The faintest star kept has this flux and this signal to noise. */
static const double limit_flux = 100, limit_snr = 7;

/* A star before it is sorted. */
struct sight {
    struct star star;
    uint32_t hip;
};

static bool room_for(struct model_stars *model, int count)
{
    if (count <= model->capacity) {
        return true;
    }
    struct star *star = realloc(model->list.star, (size_t)count * sizeof *star);
    if (star) {
        model->list.star = star;
    }
    uint32_t *hip = realloc(model->hip, (size_t)count * sizeof *hip);
    if (hip) {
        model->hip = hip;
    }
    if (!star || !hip) {
        return false;
    }
    model->capacity = count;
    return true;
}

/* Depth at which a picture of this area holds half as many stars again as are wanted. */
static double depth_for(const struct model_options *options, double area_sqdeg)
{
    double limit = 4;
    if (options->max_stars == 0) {
        return 9;
    }
    while (limit < 14 &&
           starfield_whole_sky(limit + 1) / 41253 * area_sqdeg < 1.5 * options->max_stars) {
        limit += 0.25;
    }
    return limit + 1;
}

static double depth(const struct model_options *options, const struct wcs *wcs)
{
    double width, height;
    if (options->limit_mag != 0) {
        return options->limit_mag;
    }
    wcs_field(wcs, &width, &height);
    return depth_for(options, width * height);
}

/* How a star moves over the picture during the exposure, px: the sky turns west about the pole. */
static void trail(double *x, double *y, const struct lens_plan *plan, const double v[3],
                  double exposure_s)
{
    double half = SIDEREAL_RAD_S * exposure_s / 2, x1, y1, x2, y2;
    double before[3] = {v[0] - half * v[1], v[1] + half * v[0], v[2]};
    double after[3] = {v[0] + half * v[1], v[1] - half * v[0], v[2]};
    *x = *y = 0;
    if (lens_plan_pixel(&x1, &y1, plan, before) && lens_plan_pixel(&x2, &y2, plan, after)) {
        *x = x2 - x1;
        *y = y2 - y1;
    }
}

static double axis_angle_deg(double x, double y)
{
    double angle = atan2(y, x) * DEG_PER_RAD;
    return angle > 90 ? angle - 180 : angle <= -90 ? angle + 180 : angle;
}

/* Shape of a star of 1.2 px rms drawn out evenly over (trail_x, trail_y). */
static void set_shape(struct star *star, double trail_x, double trail_y)
{
    double length = hypot(trail_x, trail_y);
    star->size = 1.2;
    star->elongation = sqrt(1 + length * length / 12 / (1.2 * 1.2));
    star->angle_deg = length > 0 ? axis_angle_deg(trail_x, trail_y) : 0;
}

static void set_flux(struct star *star, const struct model_options *options, double mag,
                     double limit)
{
    double power = options->flux_power != 0 ? options->flux_power : 1;
    double brighter = pow(10, 0.4 * (limit - mag));
    star->flux = limit_flux * pow(brighter, power);
    star->snr = limit_snr * sqrt(brighter) * sqrt(brighter / (1 + brighter * 0.02));
    star->peak = star->flux / (7.2 * star->size * star->size * star->elongation);
}

static bool inside(const struct lens *lens, double x, double y)
{
    return x >= -0.5 && y >= -0.5 && x < lens->width - 0.5 && y < lens->height - 0.5;
}

/* False if the camera does not see the star. */
static bool see(struct sight *sight, struct random *random, const struct model_options *options,
                const struct lens_plan *plan, const struct sky_star *from, double limit)
{
    *sight = (struct sight){.hip = from->hip};
    struct star *star = &sight->star;
    double mag = from->mag - options->colour_term * (from->b_v - 0.6);
    mag += options->mag_noise > 0 ? options->mag_noise * random_normal(random) : 0;
    if (mag >= limit || !lens_plan_pixel(&star->x, &star->y, plan, from->v) ||
        (from->hip && random_uniform(random) < options->missing)) {
        return false;
    }
    double trail_x = 0, trail_y = 0;
    if (options->exposure_s > 0) {
        trail(&trail_x, &trail_y, plan, from->v, options->exposure_s);
    }
    set_shape(star, trail_x, trail_y);
    set_flux(star, options, mag, limit);
    double along = 0.1 * options->position_noise_px;
    along = along > 0 ? along * random_normal(random) : 0;
    if (options->position_noise_px > 0) {
        star->x += options->position_noise_px * random_normal(random) + along * trail_x;
        star->y += options->position_noise_px * random_normal(random) + along * trail_y;
    }
    return inside(&options->lens, star->x, star->y);
}

/* As bright and as long as some real star, anywhere. */
static void invent(struct sight *sight, struct random *random, const struct lens *lens,
                   const struct sight *real, int real_count)
{
    if (real_count > 0) {
        *sight = real[(int)(random_uniform(random) * real_count)];
    } else {
        *sight = (struct sight){.star = {.flux = limit_flux, .snr = limit_snr}};
        set_shape(&sight->star, 0, 0);
    }
    sight->star.x = random_between(random, -0.5, lens->width - 0.5);
    sight->star.y = random_between(random, -0.5, lens->height - 0.5);
    double factor = exp(0.1 * random_normal(random));
    sight->star.flux *= factor;
    sight->star.peak *= factor;
    sight->hip = 0;
}

static int brightest_first(const void *a, const void *b)
{
    const struct sight *s = a, *t = b;
    return s->star.flux > t->star.flux ? -1 : s->star.flux < t->star.flux;
}

/* Drops what is too near to something brighter; sights are sorted. Returns how many are left. */
static int blend(struct sight *sight, int count, double distance)
{
    int left = 0;
    for (int i = 0; i < count; i++) {
        bool lost = false;
        for (int j = 0; j < left && !lost; j++) {
            double dx = sight[j].star.x - sight[i].star.x;
            double dy = sight[j].star.y - sight[i].star.y;
            lost = dx * dx + dy * dy < distance * distance;
        }
        if (!lost) {
            sight[left++] = sight[i];
        }
    }
    return left;
}

/* Real stars first, then the spurious ones; sorted and cut. Returns how many. */
static int fill_sights(struct sight *sight, const struct model_stars *model,
                       const struct model_options *options, int spurious_room)
{
    struct random random = {options->seed};
    struct lens_plan plan;
    int count = 0;
    lens_plan_make(&plan, &options->lens, &model->truth);
    for (int i = 0; i < model->view.count; i++) {
        const struct sky_star *star = &model->view.star[i];
        if (star->hip || !options->only_listed) {
            count += see(&sight[count], &random, options, &plan, star, model->limit_mag);
        }
    }
    qsort(sight, (size_t)count, sizeof *sight, brightest_first);
    if (options->blend_px > 0) {
        count = blend(sight, count, options->blend_px);
    }
    int wanted = options->max_stars > 0 ? options->max_stars : count + spurious_room;
    int real_wanted = (int)lround(wanted * (1 - options->spurious));
    int real = options->max_stars > 0 && count > real_wanted ? real_wanted : count;
    int spurious = (int)lround(real * options->spurious / (1 - options->spurious));
    for (int i = 0; i < spurious; i++) {
        invent(&sight[real + i], &random, &options->lens, sight, real);
    }
    count = real + spurious;
    qsort(sight, (size_t)count, sizeof *sight, brightest_first);
    return count;
}

int model_star_list(struct model_stars *model, const struct starfield *field,
                    const struct model_options *options, struct error *err)
{
    double v[3], reach = 0.5;
    model->list.count = 0;
    lens_wcs(&model->truth, &options->lens, options->ra_deg, options->dec_deg,
             options->up_angle_deg);
    model->limit_mag = depth(options, &model->truth);
    vector_from_radec(v, options->ra_deg, options->dec_deg);
    /* Noise and colour bring some fainter stars in. */
    double margin = 3 * options->mag_noise + fabs(options->colour_term);
    int result = starfield_look(&model->view, field, v, wcs_radius_deg(&model->truth) + reach,
                                model->limit_mag + margin, err);
    if (result) {
        return result;
    }
    int spurious = (int)ceil(model->view.count * options->spurious / (1 - options->spurious)) + 1;
    int most = model->view.count + spurious;
    struct sight *sight = malloc((size_t)most * sizeof *sight);
    if (!sight || !room_for(model, most)) {
        free(sight);
        return error_memory(err);
    }
    int count = fill_sights(sight, model, options, spurious);
    for (int i = 0; i < count; i++) {
        model->list.star[i] = sight[i].star;
        model->hip[i] = sight[i].hip;
    }
    free(sight);
    model->list.count = model->list.raw_count = count;
    model->list.width = options->lens.width;
    model->list.height = options->lens.height;
    model->list.sky = 1000;
    model->list.sky_noise = limit_flux / limit_snr / 4;
    return 0;
}

void model_stars_free(struct model_stars *model)
{
    free(model->list.star);
    free(model->hip);
    sky_view_free(&model->view);
    *model = (struct model_stars){0};
}
