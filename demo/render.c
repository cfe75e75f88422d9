#include "demo/render.h"

#include "base/random.h"
#include "base/units.h"
#include "demo/render_brush.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A star is drawn out to this share of the noise of a pixel. */
static const double visible_share = 0.05;

struct render_options render_options_typical(void)
{
    struct render_options options = {
        .camera = camera_typical(),
        .lens = {.width = 6000, .height = 4000, .distortion = -0.006},
        .corner_blur = 0.25,
        .colour_term = 0.3,
        .colour_scatter = 0.05,
        .light = {.vignetting = 0.35, .moon_glow = 0.25, .moon_angle_deg = -60, .seed = 1},
        .sensor = {.e_per_adu = 0.25,
                   .black_adu = 512,
                   .iso = 3200,
                   .pattern_e = 0.25,
                   .hot_share = 2e-5,
                   .seed = 1},
        .seed = 1,
    };
    return options;
}

static const double usual_temperature_c = 10;

bool render_point_tripod(struct render_options *options, const struct place *place,
                         struct utc start, double azimuth_deg, double altitude_deg, double roll_deg)
{
    struct utc middle = time_add(start, options->camera.exposure_s / 2);
    double ra, dec, zenith;
    if (!horizon_to_radec(&ra, &dec, place, middle, azimuth_deg, altitude_deg) ||
        !horizon_zenith_angle(&zenith, place, middle, ra, dec) ||
        !horizon_make(&options->horizon, place, middle)) {
        return false;
    }
    options->ra_deg = ra;
    options->dec_deg = dec;
    /* Seen from below, position angles run against the clock. */
    options->up_angle_deg = angle_wrap_360(zenith - roll_deg);
    horizon_pole(options->pole, middle);
    options->start = time_stamp_utc(start, 2);
    struct place air = *place;
    air.pressure_hpa = horizon_usual_pressure(place->height_m);
    air.temperature_c = usual_temperature_c;
    return lens_air_make(&options->air, &air, middle);
}

/* Everything that drawing needs; freed as one. */
struct scene {
    const struct render_options *options;
    struct lens_plan plan;
    struct light_map map;
    struct brush *brush;
    struct sky_view view;
    double pole[3];
    double floor_e; /* light fainter than this is not drawn */
    struct shake_piece piece[SHAKE_MOST];
    int pieces;
};

static void scene_free(struct scene *scene)
{
    light_map_free(&scene->map);
    sky_view_free(&scene->view);
    free(scene->brush);
}

static bool has_usable_camera(const struct render_options *o)
{
    const struct camera *c = &o->camera;
    return c->focal_mm > 0 && c->f_number > 0 && c->pixel_um > 0 && c->exposure_s > 0 &&
           c->fwhm_px > 0 && o->lens.scale_arcsec >= 0 && o->sensor.e_per_adu > 0 &&
           c->read_noise_e > 0;
}

static int check_options(const struct render_options *o, struct error *err)
{
    if (o->lens.width < 16 || o->lens.height < 16 || o->lens.width > 60000 ||
        o->lens.height > 60000) {
        return error_set(err, ERROR_USAGE, "a picture of %d x %d px: 16 to 60000 are possible",
                         o->lens.width, o->lens.height);
    }
    if (!has_usable_camera(o)) {
        return error_set(err, ERROR_USAGE,
                         "focal length, f-number, pixel size, exposure, star "
                         "width, noise and gain must be above 0");
    }
    if (!isfinite(o->ra_deg) || !(fabs(o->dec_deg) <= 90) || !isfinite(o->up_angle_deg)) {
        return error_set(err, ERROR_USAGE, "the pointing is no place on the sky");
    }
    return 0;
}

/* Deviation of the background of a pixel in electrons of one exposure, all frames averaged. */
static double background_noise_e(const struct camera *camera)
{
    double frames = camera->stacked > 1 ? camera->stacked : 1;
    double variance = camera_sky_e(camera) + camera->read_noise_e * camera->read_noise_e;
    return sqrt(variance / frames);
}

static bool is_behind(const struct render_options *o, const struct wcs *wcs, double x, double y)
{
    double v[3], azimuth, altitude;
    wcs_direction(v, wcs, x, y);
    horizon_see(v, &o->horizon, v, 0);
    horizon_angles(&azimuth, &altitude, v);
    return skyline_hides(o->skyline, azimuth, altitude);
}

/* From the first row of each column that is behind the skyline, all is: of a camera that stands
 * upright. */
static void raise_skyline(struct light_map *map, const struct render_options *o,
                          const struct wcs *wcs)
{
    const int step = 4;
    for (int x = 0; x < map->width; x++) {
        int y = 0;
        while (y < map->height && !is_behind(o, wcs, x, y)) {
            y += step;
        }
        for (int k = 1; k < step && y > 0 && is_behind(o, wcs, x, y - 1); k++) {
            y--;
        }
        map->skyline[x] = y < map->skyline[x] ? y : map->skyline[x];
    }
}

static int scene_make(struct scene *scene, struct rendering *r, struct error *err)
{
    const struct render_options *o = &r->options;
    *scene = (struct scene){.options = o};
    lens_wcs(&r->truth, &o->lens, o->ra_deg, o->dec_deg, o->up_angle_deg);
    lens_plan_make(&scene->plan, &o->lens, &r->truth);
    scene->plan.air = o->refracts ? &o->air : NULL;
    memcpy(scene->pole, o->pole, sizeof scene->pole);
    if (vector_dot(scene->pole, scene->pole) == 0) {
        scene->pole[2] = 1;
    }
    scene->floor_e = visible_share * background_noise_e(&o->camera);
    scene->brush = malloc(sizeof *scene->brush);
    if (!scene->brush) {
        return error_memory(err);
    }
    brush_make(scene->brush);
    scene->pieces = shake_pieces(scene->piece, &o->shake);
    int code = light_map_make(&scene->map, &o->light, &o->lens, err);
    if (!code && o->skyline) {
        raise_skyline(&scene->map, o, &r->truth);
    }
    return code;
}

/* An arc is drawn as strokes of two minutes at most, which its middle leaves by R (0.5 deg)^2 / 8,
 * 0.05 px of a circle of 5,000. */
static int arc_strokes(const struct render_options *o)
{
    const double stroke_s = 120;
    return o->tracked ? 1 : (int)fmax(1, ceil(o->camera.exposure_s / stroke_s));
}

/* How far the sky turns while exposing, degrees. */
static double arc_deg(const struct render_options *o)
{
    return o->tracked ? 0 : SIDEREAL_RAD_S * o->camera.exposure_s * DEG_PER_RAD;
}

/* Fills view with everything that could leave a trace. */
static int look(struct scene *scene, struct rendering *r, const struct starfield *field,
                struct error *err)
{
    const struct render_options *o = scene->options;
    double trail = o->tracked ? 0 : camera_trail_px(&o->camera, o->dec_deg), v[3];
    r->limit_mag = camera_limit_mag(&o->camera, 8, trail);
    if (!isfinite(r->limit_mag)) { /* no light at all, as with the lens cap on */
        return 0;
    }
    vector_from_radec(v, o->ra_deg, o->dec_deg);
    double depth = camera_limit_mag(&o->camera, 0.4, trail) + fabs(o->colour_term) + 0.1;
    double radius = fmin(wcs_radius_deg(&r->truth) * 1.05 + 0.2, 89);
    if (arc_strokes(o) > 1) {
        radius = fmin(radius + arc_deg(o) / 2, 89); /* what has set, or will rise */
    }
    return starfield_look(&scene->view, field, v, radius, depth, err);
}

/* The camera's magnitude of a star: the same in every picture. */
static double camera_mag(const struct render_options *o, const struct sky_star *star)
{
    struct random random = {(uint64_t)((star->v[0] + 2) * 1e9) + star->hip};
    double scatter = o->colour_scatter > 0 ? o->colour_scatter * random_normal(&random) : 0;
    return star->mag - o->colour_term * (star->b_v - 0.6) + scatter;
}

/* From beginning to end of a stroke: in a fixed frame the sky turns westwards about its pole. */
static void trail(struct stroke *stroke, const struct scene *scene, const double v[3], int strokes)
{
    double turn[3], before[3], after[3], x1, y1, x2, y2;
    double half = SIDEREAL_RAD_S * scene->options->camera.exposure_s / strokes / 2;
    stroke->trail_x = stroke->trail_y = 0;
    if (scene->options->tracked) {
        return;
    }
    vector_cross(turn, scene->pole, v);
    for (int i = 0; i < 3; i++) {
        before[i] = v[i] + half * turn[i];
        after[i] = v[i] - half * turn[i];
    }
    if (lens_plan_pixel(&x1, &y1, &scene->plan, before) &&
        lens_plan_pixel(&x2, &y2, &scene->plan, after)) {
        stroke->trail_x = x2 - x1;
        stroke->trail_y = y2 - y1;
    }
}

static double blur_at(const struct render_options *o, const struct wcs *wcs, double x, double y)
{
    double corner = hypot(o->lens.width, o->lens.height) / 2;
    double r = hypot(x - wcs->x, y - wcs->y) / corner;
    double right = fmax(x - wcs->x, 0) / (o->lens.width / 2.0);
    return o->camera.fwhm_px * (1 + o->corner_blur * r * r + o->tilt_blur * right);
}

static int brighter_first(const void *a, const void *b)
{
    const struct render_star *s = a, *t = b;
    return s->electrons > t->electrons ? -1 : s->electrons < t->electrons;
}

/* A star, in the pieces that shaking leaves of it. */
static void draw_star(struct scene *scene, struct rendering *r, const struct stroke *whole)
{
    for (int i = 0; i < scene->pieces; i++) {
        const struct shake_piece *piece = &scene->piece[i];
        struct stroke part = *whole;
        double middle = (piece->from + piece->to) / 2 - 0.5, length = piece->to - piece->from;
        part.x += middle * whole->trail_x + piece->dx;
        part.y += middle * whole->trail_y + piece->dy;
        part.trail_x *= length;
        part.trail_y *= length;
        part.fwhm *= piece->width;
        part.electrons *= piece->share;
        brush_draw(r->adu, r->width, r->height, scene->brush, &part,
                   scene->floor_e / scene->pieces);
    }
}

/* The whole trail of a star that is in mid-exposure at v. */
static void draw_trail(struct scene *scene, struct rendering *r, const struct stroke *whole,
                       const double v[3])
{
    const struct render_options *o = scene->options;
    int strokes = arc_strokes(o);
    for (int i = 0; i < strokes; i++) {
        struct stroke stroke = *whole;
        double at[3] = {v[0], v[1], v[2]};
        if (strokes > 1) {
            vector_turn(at, scene->pole, -arc_deg(o) * ((i + 0.5) / strokes - 0.5));
            if (!lens_plan_pixel(&stroke.x, &stroke.y, &scene->plan, at)) {
                continue;
            }
        }
        stroke.electrons /= strokes;
        trail(&stroke, scene, at, strokes);
        draw_star(scene, r, &stroke);
    }
}

/* Draws the view and notes the true stars. */
static int draw_stars(struct scene *scene, struct rendering *r, struct error *err)
{
    const struct render_options *o = scene->options;
    size_t most = (size_t)(scene->view.count ? scene->view.count : 1);
    r->star = malloc(most * sizeof *r->star);
    if (!r->star) {
        return error_memory(err);
    }
    for (int i = 0; i < scene->view.count; i++) {
        const struct sky_star *star = &scene->view.star[i];
        struct stroke stroke = {0};
        bool shows = lens_plan_pixel(&stroke.x, &stroke.y, &scene->plan, star->v);
        if (!shows && arc_strokes(o) == 1) {
            continue;
        }
        double mag = camera_mag(o, star);
        stroke.gain = o->sensor.mosaic ? mosaic_of_colour(star->b_v) : mosaic_grey();
        double pass = light_map_pass(&scene->map, stroke.x, stroke.y);
        stroke.electrons = camera_star_e(&o->camera, mag) * pass;
        stroke.fwhm = blur_at(o, &r->truth, stroke.x, stroke.y);
        draw_trail(scene, r, &stroke, star->v);
        if (shows && pass > 0 && wcs_inside(&r->truth, stroke.x, stroke.y)) {
            r->star[r->stars++] = (struct render_star){.x = stroke.x,
                                                       .y = stroke.y,
                                                       .mag = mag,
                                                       .electrons = stroke.electrons,
                                                       .hip = star->hip};
        }
    }
    qsort(r->star, (size_t)r->stars, sizeof *r->star, brighter_first);
    return 0;
}

/* Stars shine over the skyline's edge and through wires otherwise. */
static void hide_behind_foreground(float *plane, const struct light_map *map)
{
    for (int x = 0; x < map->width; x++) {
        for (int y = map->skyline[x]; y < map->height; y++) {
            plane[(long)y * map->width + x] = 0;
        }
        for (int i = 0; i < map->wires; i++) {
            int from, to;
            light_map_wire(&from, &to, map, i, x);
            for (int y = from; y < to; y++) {
                plane[(long)y * map->width + x] = 0;
            }
        }
    }
}

static int render_scene(struct rendering *r, struct scene *scene, const struct starfield *field,
                        const struct nebulae *nebulae, struct error *err)
{
    const struct render_options *o = &r->options;
    int result = scene_make(scene, r, err);
    if (!result) {
        result = look(scene, r, field, err);
    }
    if (!result) {
        result = draw_stars(scene, r, err);
    }
    if (!result && nebulae) {
        result = nebulae_draw(r->adu, nebulae, &o->lens, &r->truth, &o->camera, &scene->map,
                              scene->floor_e, o->sensor.mosaic, err);
    }
    if (result) {
        return result;
    }
    traffic_draw(r->adu, r->width, r->height, scene->brush, &o->traffic, o->camera.fwhm_px,
                 background_noise_e(&o->camera));
    hide_behind_foreground(r->adu, &scene->map);
    return sensor_expose(r->adu, &o->sensor, &o->camera, &scene->map, o->seed, err);
}

int render(struct rendering *rendering, const struct starfield *field,
           const struct nebulae *nebulae, const struct render_options *options, struct error *err)
{
    struct scene scene = {0};
    *rendering = (struct rendering){
        .width = options->lens.width, .height = options->lens.height, .options = *options};
    int result = check_options(options, err);
    if (result) {
        return result;
    }
    if (options->lens.scale_arcsec == 0) {
        rendering->options.lens.scale_arcsec = camera_scale_arcsec(&options->camera);
    }
    rendering->adu =
        calloc((size_t)rendering->width * (size_t)rendering->height, sizeof *rendering->adu);
    if (!rendering->adu) {
        return error_memory(err);
    }
    result = render_scene(rendering, &scene, field, nebulae, err);
    scene_free(&scene);
    if (result) {
        rendering_free(rendering);
    }
    return result;
}

void rendering_free(struct rendering *rendering)
{
    free(rendering->adu);
    free(rendering->star);
    *rendering = (struct rendering){0};
}

static void set_fact(struct fact *fact, double value)
{
    fact->value = value;
    fact->origin = FACT_FITS;
}

int rendering_to_frame(struct frame *frame, const struct rendering *rendering, struct error *err)
{
    const struct render_options *o = &rendering->options;
    size_t pixels = (size_t)rendering->width * (size_t)rendering->height;
    *frame = (struct frame){.width = rendering->width,
                            .height = rendering->height,
                            .format = "FITS",
                            .rows = ROWS_BOTTOM_UP};
    frame->luminance = (struct plane){
        .width = rendering->width, .height = rendering->height, .bin = 1, .full = SENSOR_WHITE};
    frame->luminance.value = malloc(pixels * sizeof *frame->luminance.value);
    if (!frame->luminance.value) {
        return error_memory(err);
    }
    memcpy(frame->luminance.value, rendering->adu, pixels * sizeof *rendering->adu);
    set_fact(&frame->facts.focal_mm, o->camera.focal_mm);
    set_fact(&frame->facts.pixel_um, o->camera.pixel_um);
    set_fact(&frame->facts.exposure_s, o->camera.exposure_s);
    set_fact(&frame->facts.iso, o->sensor.iso);
    frame->facts.start_utc = o->start;
    return 0;
}

static int compare_floats(const void *a, const void *b)
{
    float s = *(const float *)a, t = *(const float *)b;
    return s < t ? -1 : s > t;
}

/* Median of a thousand pixels or so, and the deviation of those below it. */
static void background(double *level, double *noise, const struct rendering *rendering)
{
    enum { SAMPLES = 1009 };
    float sample[SAMPLES];
    double pixels = (double)rendering->width * rendering->height;
    for (int i = 0; i < SAMPLES; i++) {
        sample[i] = rendering->adu[(long)(pixels * (i + 0.5) / SAMPLES)];
    }
    qsort(sample, SAMPLES, sizeof *sample, compare_floats);
    *level = sample[SAMPLES / 2];
    *noise = fmax((sample[SAMPLES / 2] - sample[SAMPLES / 6]) / 0.97, 0.01);
}

/* The strength that lifts what is low to a tenth of the scale. */
static double strength_for(double low)
{
    double least = 1, most = 1e9;
    for (int i = 0; i < 60; i++) {
        double middle = sqrt(least * most);
        if (asinh(low * middle) / asinh(middle) < 0.1) {
            least = middle;
        } else {
            most = middle;
        }
    }
    return least;
}

/* One exposure as a camera shows it; whole numbers, so a table does. */
static void show_single(unsigned char *out, const struct rendering *rendering)
{
    unsigned char table[SENSOR_WHITE + 1];
    double black = rendering->options.sensor.black_adu;
    for (int adu = 0; adu <= SENSOR_WHITE; adu++) {
        double share = fmax((adu - black) / (SENSOR_WHITE - black), 0);
        table[adu] = (unsigned char)(255 * pow(share, 1 / 2.2) + 0.5);
    }
    for (long i = 0; i < (long)rendering->width * rendering->height; i++) {
        out[i] = table[(int)rendering->adu[i]];
    }
}

static void show_stack(unsigned char *out, const struct rendering *rendering)
{
    double level, noise;
    background(&level, &noise, rendering);
    double black = level - 2.5 * noise, range = SENSOR_WHITE - black;
    double strength = strength_for(2.5 * noise / range), unit = 255 / asinh(strength);
    for (long i = 0; i < (long)rendering->width * rendering->height; i++) {
        double share = fmin(fmax((rendering->adu[i] - black) / range, 0), 1);
        out[i] = (unsigned char)(unit * asinh(share * strength) + 0.5);
    }
}

void rendering_to_bytes(unsigned char *out, const struct rendering *rendering)
{
    if (rendering->options.camera.stacked > 1) {
        show_stack(out, rendering);
    } else {
        show_single(out, rendering);
    }
}
