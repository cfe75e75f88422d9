#include "plan/plan.h"

#include "base/clamp.h"
#include "base/text.h"
#include "base/units.h"
#include "objects/fame.h"
#include "plan/plan_shots.h"
#include "sky/vector.h"

#include <erfa.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Kept free along the edges, and how full a frame may get by what is added to its object. */
static const double margin = 0.02, most_fill = 0.78;

/* What is less known, too small or too faint does not decide how a camera is held. */
static const double member_fame = 2.3, member_size_share = 0.012, member_galaxy_mag = 11;

/* Worth holding the camera upright for. */
static const double turning_fame = 3;

/* Farther apart than this, two objects make no picture together, however wide the lens. */
static const double member_reach_deg = 8;

/* What makes a candidate: parts of the frame's height, and magnitudes. */
static const double least_size_share = 0.01, faintest_mag = 12;

/* Wider fields than this take in parts of the Milky Way, and so low down they are still worth it.
 */
static const double wide_field_deg = 40, milky_way_least_deg = 10;

/* Words. Magnitudes a square arcsecond fainter than the sky; magnitudes of a showpiece and of a
 * bright cluster; parts of the frame's height; degrees above the least altitude, and above the
 * horizon; magnitudes by which the Moon brightens the sky; score lost by its glare. */
static const double very_bright_contrast = 2, bright_contrast = 3.3, faint_contrast = 4.3;
static const double showpiece_mag = 5, showpiece_contrast = 4, bright_cluster_mag = 5;
static const double small_share = 0.06, tiny_share = 0.01, low_deg = 8, high_deg = 55;
static const double moonlit_mag = 0.5, glare = 1;

double plan_scale_arcsec(const struct plan_camera *camera)
{
    return camera->pixel_um / 1000 / camera->focal_mm * ARCSEC_PER_RAD;
}

void plan_field(double *width_deg, double *height_deg, const struct plan_camera *camera)
{
    *width_deg = 2 * atan(camera->width_mm / 2 / camera->focal_mm) * DEG_PER_RAD;
    *height_deg = 2 * atan(camera->height_mm / 2 / camera->focal_mm) * DEG_PER_RAD;
}

static void plan_signal(struct plan_item *item, const struct plan_settings *settings)
{
    const struct plan_camera *camera = &settings->camera;
    struct signal_outlook *outlook = &item->outlook;
    item->has_signal =
        signal_surface(&outlook->surface_mag, &outlook->sigma_mag, item->member[0].object);
    if (!item->has_signal) {
        return;
    }
    outlook->frame = (struct signal_frame){
        .zero_mag = signal_zero_mag(camera->focal_mm, camera->f_number, camera->efficiency),
        .scale_arcsec = plan_scale_arcsec(camera),
        .exposure_s = item->shots.exposure_s,
        .sky_mag = item->sky_mag,
        .read_noise = camera->read_noise,
    };
    outlook->wanted = settings->snr;
    signal_foresee(outlook);
    item->snr = signal_stack(&outlook->signal, (double)item->shots.frames);
}

static bool plan_moon(struct plan_item *item, const struct darkness *night,
                      const struct plan_settings *settings)
{
    struct sun_moon_position moon;
    const struct object *object = item->member[0].object;
    if (!sun_moon_from_place(&moon, THE_MOON, &night->place, item->window.best)) {
        return false;
    }
    item->moon_altitude_deg = moon.altitude_deg;
    if (object->type == OBJECT_MOON) {
        item->moon_separation_deg = 0;
        item->sky_mag = settings->sky_mag;
        return true;
    }
    item->moon_separation_deg =
        radec_angle_deg(moon.ra_deg, moon.dec_deg, object->ra_deg, object->dec_deg);
    item->sky_mag = signal_moonlit_mag(settings->sky_mag, night->moon_lit, moon.altitude_deg,
                                       item->window.best_altitude_deg, item->moon_separation_deg);
    return true;
}

static void fit_members(struct group_fit *fit, const struct plan_item *item, int members,
                        const struct plan_settings *settings, const double zenith[2])
{
    struct sky_ellipse shapes[PLAN_MEMBERS];
    struct group_frame frame = {
        .margin = margin, .zenith_ra_deg = zenith[0], .zenith_dec_deg = zenith[1]};
    plan_field(&frame.width_deg, &frame.height_deg, &settings->camera);
    for (int i = 0; i < members; i++) {
        shapes[i] = item->member[i].shape;
    }
    group_fit(fit, shapes, members, &frame);
}

/* Best known first. */
static int by_fame(const void *left, const void *right)
{
    const struct object *a = *(const struct object *const *)left;
    const struct object *b = *(const struct object *const *)right;
    double fame_a = fame_of_object(a), fame_b = fame_of_object(b);
    if (fame_a != fame_b) {
        return fame_a > fame_b ? -1 : 1;
    }
    return a < b ? -1 : a > b;
}

enum { MOST_NEIGHBOURS = 64 };

static bool is_worth_adding(const struct object *object, double height_deg)
{
    bool faint = object->type == OBJECT_GALAXY && !(object->magnitude < member_galaxy_mag);
    return object->major_arcmin > member_size_share * height_deg * 60 && !faint &&
           fame_of_object(object) >= member_fame;
}

static int find_neighbours(const struct object *found[MOST_NEIGHBOURS], const struct object *centre,
                           const struct objects *objects, const struct plan_settings *settings)
{
    double width, height;
    plan_field(&width, &height, &settings->camera);
    double reach_deg = fmin(hypot(width, height), member_reach_deg);
    int count = 0;
    for (int i = 0; i < objects->deep_sky && count < MOST_NEIGHBOURS; i++) {
        const struct object *object = &objects->object[i];
        if (object != centre && is_worth_adding(object, height) &&
            fabs(object->dec_deg - centre->dec_deg) < reach_deg &&
            radec_angle_deg(object->ra_deg, object->dec_deg, centre->ra_deg, centre->dec_deg) <
                reach_deg) {
            found[count++] = object;
        }
    }
    qsort(found, (size_t)count, sizeof *found, by_fame);
    return count;
}

/* Adds what fits into the same frame, as long as the camera stays level or upright. */
static void compose(struct plan_item *item, const struct objects *objects,
                    const struct plan_settings *settings, const double zenith[2])
{
    const struct object *found[MOST_NEIGHBOURS];
    int count =
        item->fit.fits ? find_neighbours(found, item->member[0].object, objects, settings) : 0;
    for (int i = 0; i < count && item->members < PLAN_MEMBERS; i++) {
        struct plan_member *member = &item->member[item->members];
        struct group_fit fit;
        member->object = found[i];
        ellipse_from_object(&member->shape, found[i]);
        fit_members(&fit, item, item->members + 1, settings, zenith);
        bool turns = fit.hold == GROUP_TURNED ||
                     (fit.hold != item->fit.hold && fame_of_object(found[i]) < turning_fame);
        if (fit.fits && fit.fill <= fmax(most_fill, item->fit.fill) && !turns) {
            item->fit = fit;
            item->members++;
        }
    }
    item->composed = item->members > 1;
}

/* What has to be in the frame for certain. */
static void take_wanted(struct plan_item *item, const struct plan_settings *settings)
{
    for (int i = 0; i < settings->with_count && item->members < PLAN_MEMBERS; i++) {
        struct plan_member *member = &item->member[item->members];
        if (settings->with[i] != item->member[0].object) {
            member->object = settings->with[i];
            ellipse_from_object(&member->shape, member->object);
            item->members++;
        }
    }
}

/* All that was asked for, whether it fits or not. */
static void compose_wanted(struct plan_item *item, const struct plan_settings *settings,
                           const double zenith[2])
{
    take_wanted(item, settings);
    fit_members(&item->fit, item, item->members, settings, zenith);
    item->composed = item->members > 1;
}

/* Whether it is wholly in a frame that is not moved for its sake. */
static bool is_in_frame(const struct sky_ellipse *shape, const struct group_fit *fit,
                        const struct plan_settings *settings)
{
    double width, height;
    plan_field(&width, &height, &settings->camera);
    double away = radec_angle_deg(fit->ra_deg, fit->dec_deg, shape->ra_deg, shape->dec_deg);
    double turn =
        radec_position_angle_deg(fit->ra_deg, fit->dec_deg, shape->ra_deg, shape->dec_deg) -
        fit->up_deg;
    double across = fabs(away * sin(turn * RAD_PER_DEG)) + shape->major_deg;
    double along = fabs(away * cos(turn * RAD_PER_DEG)) + shape->major_deg;
    return away < 90 && across < (0.5 - margin) * width && along < (0.5 - margin) * height;
}

/* Names what happens to be in the frame, with the target in its middle. */
static void note_neighbours(struct plan_item *item, const struct objects *objects,
                            const struct plan_settings *settings)
{
    const struct object *found[MOST_NEIGHBOURS];
    int count =
        item->fit.fits ? find_neighbours(found, item->member[0].object, objects, settings) : 0;
    for (int i = 0; i < count && item->members < PLAN_MEMBERS; i++) {
        struct plan_member *member = &item->member[item->members];
        *member = (struct plan_member){.object = found[i]};
        ellipse_from_object(&member->shape, found[i]);
        item->members += is_in_frame(&member->shape, &item->fit, settings);
    }
}

static void add_members(struct plan_item *item, const struct objects *objects,
                        const struct plan_settings *settings, const double zenith[2])
{
    if (settings->with_count) {
        compose_wanted(item, settings, zenith);
    } else if (settings->compose) {
        compose(item, objects, settings, zenith);
    } else {
        note_neighbours(item, objects, settings);
    }
    if (!item->composed) { /* the target's own middle, not that of the box around it */
        item->fit.ra_deg = item->member[0].shape.ra_deg;
        item->fit.dec_deg = item->member[0].shape.dec_deg;
    }
}

static void measure_size(struct plan_item *item, const struct plan_settings *settings)
{
    double width, height;
    const struct sky_ellipse *shape = &item->member[0].shape;
    plan_field(&width, &height, &settings->camera);
    item->size_share = 2 * shape->major_deg / height;
    item->area_share = PI * shape->major_deg * shape->minor_deg / (width * height);
}

static bool see_item(struct plan_item *item, const struct object *object,
                     const struct darkness *night, const struct plan_settings *settings)
{
    memset(item, 0, sizeof *item);
    item->members = 1;
    item->member[0].object = object;
    ellipse_from_object(&item->member[0].shape, object);
    return dark_window(&item->window, night, object->ra_deg, object->dec_deg,
                       settings->least_altitude_deg);
}

/* With see_item, all but the members, the score and the reason. */
/* zenith: right ascension and declination, degrees. */
static bool start_item(struct plan_item *item, double zenith[2], const struct darkness *night,
                       const struct plan_settings *settings)
{
    plan_hours(item, settings);
    if (!horizon_to_radec(&zenith[0], &zenith[1], &night->place, item->begin, 0, 90) ||
        !plan_session(item, &night->place) || !plan_moon(item, night, settings)) {
        return false;
    }
    measure_size(item, settings);
    fit_members(&item->fit, item, 1, settings, zenith);
    return true;
}

static bool is_cluster(enum object_type type)
{
    return type >= OBJECT_ASTERISM && type <= OBJECT_OPEN_CLUSTER;
}

/* How well it will show: a patch by its signal to noise in patches of 10 x 10 px, a cluster by its
 * stars. */
static double light_score(const struct plan_item *item)
{
    const struct object *object = item->member[0].object;
    if (item->has_signal) {
        return 1.5 * clamp(log10(10 * item->snr), -2, 1.5);
    }
    if (is_cluster(object->type)) {
        return isnan(object->magnitude) ? -2 : clamp(0.35 * (6 - object->magnitude), -2, 1.2);
    }
    return -3;
}

static double size_score(double share)
{
    double full = 2 * fmax(0, share - 0.75);
    return share > 0 ? clamp(2 * log10(share / 0.07), -4, 1.4) - full : -4;
}

static double altitude_score(double altitude_deg)
{
    double air_mass = 1 / sin(fmax(altitude_deg, 5) * RAD_PER_DEG);
    return -clamp(air_mass - 1, 0, 3);
}

static double time_score(const struct plan_item *item)
{
    double wanted = item->shots.clock_s / 3600;
    return -2.5 * (1 - clamp(dark_span_hours(&item->window.span) / wanted, 0, 1));
}

static double brightness_score(double magnitude)
{
    return isnan(magnitude) ? -0.5 : clamp(0.3 * (7 - magnitude), -1.5, 1.5);
}

/* What people take pictures of, apart from fame. */
static double kind_score(enum object_type type)
{
    if (type >= OBJECT_EMISSION_NEBULA && type <= OBJECT_SUPERNOVA_REMNANT) {
        return 0.8;
    }
    return type == OBJECT_GALAXY ? 0.6 : type == OBJECT_GLOBULAR_CLUSTER ? 0.2 : -0.5;
}

/* Glare, beyond the brighter sky that the signal knows of. */
static double glare_score(const struct plan_item *item, double moon_lit)
{
    bool up = item->moon_altitude_deg > 0;
    return up ? -4 * moon_lit * clamp(1 - item->moon_separation_deg / 30, 0, 1) : 0;
}

/* What a wide lens is for, while the Moon leaves it to be seen. */
static double milky_way_score(const struct plan_item *item, const struct plan_settings *settings)
{
    const double worth = 12, lost_per_mag = 4;
    return worth - lost_per_mag * fmax(0, settings->sky_mag - item->sky_mag);
}

static void score_item(struct plan_item *item, const struct darkness *night)
{
    const struct object *object = item->member[0].object;
    item->score = fame_of_object(object) + light_score(item) + size_score(item->size_share) +
                  brightness_score(object->magnitude) + time_score(item) +
                  altitude_score(item->window.best_altitude_deg) + kind_score(object->type) +
                  glare_score(item, night->moon_lit) + 0.25 * (item->members - 1);
}

static void add_reason(struct plan_item *item, const char *text)
{
    text_append(item->reason, sizeof item->reason, "%s%s", item->reason[0] && *text ? ", " : "",
                text);
}

static void reason_light(struct plan_item *item)
{
    const struct object *object = item->member[0].object;
    double contrast = item->outlook.surface_mag - item->sky_mag;
    if (item->has_signal) {
        bool showpiece = object->magnitude < showpiece_mag && contrast < showpiece_contrast;
        add_reason(item, contrast < very_bright_contrast           ? "very bright"
                         : contrast < bright_contrast || showpiece ? "bright"
                         : contrast > faint_contrast               ? "faint"
                                                                   : "");
    } else if (is_cluster(object->type)) {
        add_reason(item, object->magnitude < bright_cluster_mag ? "bright stars" : "stars");
    }
}

static void explain_item(struct plan_item *item, const struct plan_settings *settings)
{
    char text[80];
    reason_light(item);
    if (item->size_share > 0) {
        snprintf(text, sizeof text, "%s%.0f %% of the frame's height",
                 item->size_share < small_share ? "small: " : "", item->size_share * 100);
        add_reason(item, item->size_share < tiny_share ? "tiny in this lens" : text);
    }
    if (item->window.best_altitude_deg < settings->least_altitude_deg + low_deg) {
        add_reason(item, "low");
    } else if (item->window.best_altitude_deg > high_deg) {
        add_reason(item, "high");
    }
    double hours = dark_span_hours(&item->window.span);
    if (hours * 3600 < item->shots.clock_s) {
        snprintf(text, sizeof text, "only %.1f h", hours);
        add_reason(item, text);
    }
    bool glares = item->member[0].object->type != OBJECT_MOON && glare_score(item, 1) < -glare;
    if (settings->sky_mag - item->sky_mag > moonlit_mag || glares) {
        snprintf(text, sizeof text, "Moon %.0f° away", item->moon_separation_deg);
        add_reason(item, text);
    }
}

static int refuse_time(struct error *err)
{
    return error_set(err, ERROR_USAGE, "the sky of that night cannot be computed");
}

static void finish_item(struct plan_item *item, const struct darkness *night,
                        const struct plan_settings *settings)
{
    plan_signal(item, settings);
    score_item(item, night);
}

static void set_focal(struct plan_settings *own, double focal_mm)
{
    own->camera.focal_mm = focal_mm;
    own->camera.f_number = lens_aperture(&own->zoom, focal_mm);
    if (own->learned.lens) {
        rig_lens_profile(&own->camera.lens, own->learned.file, own->learned.lens, focal_mm);
    }
}

enum { SESSION_LOOKS = 5 };

/* The larger share of the frame that all of it takes, from first to last: a level camera turns on
 * the sky meanwhile. */
static double fill_of_session(bool *fits, struct plan_item *wanted, const struct plan_settings *own,
                              double zenith[SESSION_LOOKS][2])
{
    double fill = 0;
    *fits = true;
    for (int i = 0; i < SESSION_LOOKS; i++) {
        fit_members(&wanted->fit, wanted, wanted->members, own, zenith[i]);
        fill = fmax(fill, wanted->fit.fill);
        *fits = *fits && wanted->fit.fits;
    }
    return fill;
}

/* The longest of the zoom with which enough of the frame is left free. */
static bool choose_focal(struct plan_item *item, struct plan_settings *own,
                         const struct darkness *night)
{
    double zenith[SESSION_LOOKS][2];
    bool fits;
    set_focal(own, own->zoom.longest_mm);
    plan_hours(item, own);
    struct plan_item wanted = *item;
    for (int i = 0; i < SESSION_LOOKS; i++) {
        struct utc when = time_add(item->begin, item->shots.clock_s * i / (SESSION_LOOKS - 1));
        if (!horizon_to_radec(&zenith[i][0], &zenith[i][1], &night->place, when, 0, 90)) {
            return false;
        }
    }
    take_wanted(&wanted, own);
    item->zoom = ZOOM_LONGEST;
    while (fill_of_session(&fits, &wanted, own, zenith) > ZOOM_FILL) {
        if (own->camera.focal_mm <= own->zoom.shortest_mm) {
            item->zoom = fits ? ZOOM_SHORTEST : ZOOM_TOO_LARGE;
            break;
        }
        set_focal(own, zoom_next_mm(own->camera.focal_mm, own->zoom.shortest_mm));
        item->zoom = ZOOM_FITTED;
    }
    return true;
}

/* The same for one object by its length alone, so that many can be looked at. */
static void guess_focal(struct plan_item *item, struct plan_settings *own)
{
    double width, height;
    set_focal(own, own->zoom.longest_mm);
    item->zoom = ZOOM_LONGEST;
    plan_field(&width, &height, &own->camera);
    while (2 * item->member[0].shape.major_deg > ZOOM_FILL * height &&
           own->camera.focal_mm > own->zoom.shortest_mm) {
        set_focal(own, zoom_next_mm(own->camera.focal_mm, own->zoom.shortest_mm));
        item->zoom = ZOOM_FITTED;
        plan_field(&width, &height, &own->camera);
    }
}

int plan_target(struct plan_item *item, const struct object *object, const struct objects *objects,
                const struct darkness *night, const struct plan_settings *settings,
                struct error *err)
{
    struct plan_settings own = *settings;
    double zenith[2];
    if (!see_item(item, object, night, settings) ||
        (own.zoom.longest_mm > 0 && !choose_focal(item, &own, night))) {
        return refuse_time(err);
    }
    item->camera = own.camera;
    if (!start_item(item, zenith, night, &own)) {
        return refuse_time(err);
    }
    add_members(item, objects, &own, zenith);
    finish_item(item, night, &own);
    plan_batches(item, &own);
    explain_item(item, &own);
    return 0;
}

/* Whether it is worth a look at the sky: known, not tiny in this lens, not far too faint, and up at
 * some time. */
static bool is_candidate(const struct object *object, const struct darkness *night,
                         const struct plan_settings *settings)
{
    double width, height;
    plan_field(&width, &height, &settings->camera);
    double highest = 90 - fabs(night->place.latitude_deg - object->dec_deg);
    return object->major_arcmin > least_size_share * height * 60 &&
           !(object->magnitude > faintest_mag) && fame_of_object(object) >= FAME_KNOWN &&
           object->type != OBJECT_DOUBLE_STAR && highest >= settings->least_altitude_deg - 1;
}

static int by_score(const void *left, const void *right)
{
    const struct plan_item *a = left, *b = right;
    if (a->score != b->score) {
        return a->score > b->score ? -1 : 1;
    }
    return a->member[0].object < b->member[0].object ? -1 : 1;
}

static void sort_plan(struct plan *plan)
{
    if (plan->count) { /* else there may be no list at all, which qsort may not be given */
        qsort(plan->item, (size_t)plan->count, sizeof *plan->item, by_score);
    }
}

/* A settings' copy with which the Milky Way, which stands low in the north, counts as up. */
static struct plan_settings milky_way_settings(const struct plan_settings *settings)
{
    struct plan_settings own = *settings;
    own.least_altitude_deg = fmin(own.least_altitude_deg, milky_way_least_deg);
    return own;
}

static bool find_arch(struct plan_arch *arch, struct plan_item *centre,
                      const struct darkness *night)
{
    double ra, dec, azimuth, altitude;
    eraG2icrs(0, PI / 2, &ra, &dec); /* the northern pole of its plane */
    arch->any = night->dark.any;
    arch->centre = centre->window;
    arch->moon_up = centre->moon_altitude_deg > 0;
    if (!horizon_from_radec(&azimuth, &altitude, &night->place, centre->window.best,
                            ra * DEG_PER_RAD, dec * DEG_PER_RAD)) {
        return false;
    }
    arch->apex_deg = 90 - fabs(altitude);
    arch->apex_azimuth_deg = fmod(altitude > 0 ? azimuth + 180 : azimuth, 360);
    return true;
}

/* Parts of the Milky Way for a lens that takes them in. */
static int add_milky_way(struct plan *plan, const struct darkness *night,
                         const struct plan_settings *settings, struct error *err)
{
    const struct plan_settings own = milky_way_settings(settings);
    double width, height, zenith[2];
    plan_field(&width, &height, &settings->camera);
    if (width <= wide_field_deg || !night->dark.any) {
        return 0;
    }
    for (int i = 0; i < MILKY_WAY_PARTS; i++) {
        struct plan_item *item = &plan->item[plan->count];
        milky_way_part(&plan->milky_way[i], i);
        if (!see_item(item, &plan->milky_way[i], night, &own) ||
            !start_item(item, zenith, night, &own) ||
            (i == 0 && !find_arch(&plan->arch, item, night))) {
            return refuse_time(err);
        }
        if (item->window.span.any) {
            finish_item(item, night, &own);
            item->score += milky_way_score(item, &own);
            plan->count++;
        }
    }
    return 0;
}

/* Everything that is up in the dark and fits, best first. */
static int collect(struct plan *plan, const struct objects *objects, const struct darkness *night,
                   const struct plan_settings *settings, struct error *err)
{
    plan->item = malloc(((size_t)objects->deep_sky + MILKY_WAY_PARTS + 1) * sizeof *plan->item);
    if (!plan->item) {
        return error_memory(err);
    }
    for (int i = 0; i < objects->deep_sky; i++) {
        struct plan_item *item = &plan->item[plan->count];
        struct plan_settings own = *settings;
        double zenith[2];
        if (!is_candidate(&objects->object[i], night, settings)) {
            continue;
        }
        if (!see_item(item, &objects->object[i], night, settings)) {
            return refuse_time(err);
        }
        if (!item->window.span.any) {
            continue;
        }
        if (own.zoom.longest_mm > 0) {
            guess_focal(item, &own);
        }
        if (!start_item(item, zenith, night, &own)) {
            return refuse_time(err);
        }
        if (item->fit.fits) {
            finish_item(item, night, &own);
            plan->count++;
        }
    }
    int code = add_milky_way(plan, night, settings, err);
    sort_plan(plan);
    return code;
}

static bool is_milky_way(const struct plan *plan, const struct object *object)
{
    for (int i = 0; i < MILKY_WAY_PARTS; i++) {
        if (object == &plan->milky_way[i]) {
            return true;
        }
    }
    return false;
}

static bool is_taken(const struct plan *plan, int items, const struct object *object)
{
    for (int i = 0; i < items; i++) {
        for (int k = 0; k < plan->item[i].members; k++) {
            if (plan->item[i].member[k].object == object) {
                return true;
            }
        }
    }
    return false;
}

int plan_make(struct plan *plan, const struct objects *objects, const struct darkness *night,
              const struct plan_settings *settings, int most, struct error *err)
{
    int kept = 0;
    memset(plan, 0, sizeof *plan);
    int code = night->dark.any ? collect(plan, objects, night, settings, err) : 0;
    for (int i = 0; !code && i < plan->count && kept < most; i++) {
        const struct object *object = plan->item[i].member[0].object;
        if (!is_taken(plan, kept, object)) {
            double score = plan->item[i].score;
            bool milky = is_milky_way(plan, object);
            const struct plan_settings own = milky ? milky_way_settings(settings) : *settings;
            code = plan_target(&plan->item[kept], object, objects, night, &own, err);
            plan->item[kept].score = milky ? score : plan->item[kept].score;
            kept++;
        }
    }
    plan->count = kept;
    sort_plan(plan);
    if (code) {
        plan_free(plan);
    }
    return code;
}

void plan_free(struct plan *plan)
{
    free(plan->item);
    memset(plan, 0, sizeof *plan);
}
