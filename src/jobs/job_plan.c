#include "jobs/job_plan.h"

#include "base/text.h"
#include "draw/card.h"
#include "objects/milky_way.h"
#include "objects/wanderer.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A suburb's sky, where nothing is told. */
static const double usual_sky_mag = 19.2;

static double choose_sky(const struct job_plan_wish *wish, const struct rig_place *place)
{
    if (wish->sky_mag > 0) {
        return wish->sky_mag;
    }
    if (wish->bortle > 0) {
        return signal_bortle_mag(wish->bortle);
    }
    if (place->sky_mag > 0) {
        return place->sky_mag;
    }
    return place->bortle > 0 ? signal_bortle_mag(place->bortle) : usual_sky_mag;
}

/* How long stars may trail, and which exposures there are. */
static void choose_exposures(struct plan_settings *settings, const struct rig *rig)
{
    if (!(settings->trail.px > 0) && !(settings->trail.rule_mm_s > 0)) {
        settings->trail = rig->trail;
    }
    if (rig->body) {
        settings->shutter = rig->body->shutter;
    }
    if (rig->lens && rig->lens->star_px > 0) {
        settings->accept.star_px = rig->lens->star_px;
    }
}

static int settle(struct job_plan_result *result, const struct job_engine *engine,
                  const struct job_plan_wish *wish, struct error *err)
{
    const struct rig *rig = &engine->rig.rig;
    struct plan_sheet *sheet = &result->sheet;
    result->settings = wish->settings;
    int code = plan_gear_choose(&result->settings.camera, &result->settings.zoom, result->camera,
                                sizeof result->camera, &wish->gear, rig, err);
    code =
        code ? code
             : plan_evening_find(&result->night, &sheet->utc_offset_min, &wish->evening, rig, err);
    if (code) {
        return code;
    }
    result->settings.learned = plan_gear_lesson(&wish->gear, rig);
    choose_exposures(&result->settings, rig);
    result->settings.sky_mag = choose_sky(wish, rig->place);
    plan_evening_write_place(result->place, sizeof result->place, rig->place);
    sheet->settings = &result->settings;
    sheet->night = &result->night;
    if (result->night.depth < result->night.wanted &&
        !season_dark_again(&sheet->dark_again, &result->night, sheet->utc_offset_min)) {
        return error_set(err, ERROR_USAGE, "the sky of that year cannot be computed");
    }
    sheet->zone = rig_times_zone(rig);
    sheet->objects = &engine->atlas.objects;
    sheet->place = result->place;
    sheet->camera = result->camera;
    return 0;
}

static const struct object *place_wanderer(struct job_plan_result *result, enum wanderer which,
                                           struct utc when, struct error *err)
{
    if (!wanderer_object(&result->own, which, &result->night.place, when)) {
        error_set(err, ERROR_USAGE, "the sky of that night cannot be computed");
        return NULL;
    }
    return &result->own;
}

/* A name, or a position or what moves, which becomes an object of its own. */
static const struct object *find_target(struct job_plan_result *result, const char *name,
                                        struct error *err)
{
    enum wanderer wanderer = wanderer_find(name);
    double ra, dec;
    char *text = result->own_name;
    size_t size = sizeof result->own_name;
    if (text_read_radec(&ra, &dec, name)) {
        text_write_ra(text, size, ra);
        text_append(text, size, " ");
        text_write_dec(text + strlen(text), size - strlen(text), dec);
        result->own = (struct object){.id = text,
                                      .other_names = "",
                                      .common_names = "",
                                      .usual_name = "",
                                      .type = OBJECT_STAR,
                                      .ra_deg = ra,
                                      .dec_deg = dec,
                                      .magnitude = NAN,
                                      .magnitude_error = NAN,
                                      .major_arcmin = NAN,
                                      .minor_arcmin = NAN,
                                      .angle_deg = NAN};
        return &result->own;
    }
    if (wanderer) {
        return place_wanderer(result, wanderer, time_add(result->night.noon, 43200), err);
    }
    if (milky_way_find(&result->own, name)) {
        return &result->own;
    }
    if (wanderer_is_sun(name)) {
        error_set(err, ERROR_USAGE,
                  "the Sun is no target: never point a lens, a finder or an eye at it");
        return NULL;
    }
    return objects_look_up(result->sheet.objects, name, err);
}

/* What moves is planned for where it is in the middle of its frames. */
static int plan_target_then(struct job_plan_result *result, const struct object *object,
                            enum wanderer wanderer, struct error *err)
{
    struct plan_item *item = &result->item;
    const struct objects *objects = result->sheet.objects;
    int code = plan_target(item, object, objects, &result->night, &result->settings, err);
    for (int i = 0; !code && wanderer && i < 2; i++) {
        struct utc middle = time_add(item->begin, item->shots.clock_s / 2);
        if (!place_wanderer(result, wanderer, middle, err)) {
            return err->code;
        }
        code = plan_target(item, object, objects, &result->night, &result->settings, err);
    }
    return code;
}

/* What else is to be in the frame. */
static int find_with(struct job_plan_result *result, const char *names, struct error *err)
{
    int count = 0;
    for (const char *at = names; at && *at;) {
        char name[120];
        struct error why = {0};
        size_t length = strcspn(at, ",");
        snprintf(name, sizeof name, "%.*s", (int)(length < 119 ? length : 119), at);
        if (count == PLAN_MEMBERS - 1) {
            return error_set(err, ERROR_USAGE, "expected at most %d names beside the target",
                             PLAN_MEMBERS - 1);
        }
        result->with[count] =
            objects_look_up(result->sheet.objects, name + strspn(name, " "), &why);
        if (!result->with[count++]) {
            return error_set(err, why.code, "%s", why.text);
        }
        at += length + (at[length] == ',');
    }
    result->settings.with = result->with;
    result->settings.with_count = count;
    return 0;
}

static int find_season(struct job_plan_result *result, const struct job_plan_wish *wish,
                       const struct object *object, struct error *err)
{
    const double least_hours = 1;
    const struct season_wish asked = {.ra_deg = object->ra_deg,
                                      .dec_deg = object->dec_deg,
                                      .least_altitude_deg = result->settings.least_altitude_deg,
                                      .least_hours = least_hours,
                                      .moonless_hours = wish->moonless_hours,
                                      .nights = wish->nights,
                                      .utc_offset_min = result->sheet.utc_offset_min};
    return season_find(&result->season, &result->night, &asked)
               ? 0
               : error_set(err, ERROR_USAGE, "the sky of that year cannot be computed");
}

/* From here on the camera is that of the target, wherever it is told. */
static void settle_focal(struct job_plan_result *result, const struct job_engine *engine,
                         const struct job_plan_wish *wish)
{
    result->settings.camera = result->item.camera;
    plan_gear_write(result->camera, sizeof result->camera, &result->settings.camera,
                    &result->settings.zoom, false, &wish->gear, &engine->rig.rig);
}

/* For heads without scales. */
static void find_star_steps(struct job_plan_result *result)
{
    const struct step_frame frame = plan_step_frame(&result->sheet);
    star_steps_find(&result->star_steps, &result->approach, result->sheet.objects,
                    &result->night.place, result->night.skyline, result->item.begin, &frame);
    result->sheet.star_steps = &result->star_steps;
}

static int plan_one(struct job_plan_result *result, const struct job_engine *engine,
                    const struct job_plan_wish *wish, struct error *err)
{
    struct plan_item *item = &result->item;
    const struct objects *objects = result->sheet.objects;
    struct error why = {0};
    const struct object *object = find_target(result, wish->target, &why);
    if (!object) {
        return error_set(err, why.code, "%s", why.text);
    }
    int code = find_with(result, wish->with, err);
    code = code ? code : plan_target_then(result, object, wanderer_find(wish->target), err);
    if (!code) {
        settle_focal(result, engine, wish);
    }
    if (code) {
        return code;
    }
    if (!approach_find(&result->approach, objects, &result->night.place, result->night.skyline,
                       item->begin, item->fit.ra_deg, item->fit.dec_deg)) {
        return error_set(err, ERROR_USAGE, "the sky of that night cannot be computed");
    }
    result->sheet.item = item;
    result->sheet.approach = &result->approach;
    find_star_steps(result);
    if (!wanderer_find(wish->target)) {
        result->sheet.season = &result->season;
        return find_season(result, wish, object, err);
    }
    return 0;
}

int job_plan(struct job_plan_result *result, const struct job_engine *engine,
             const struct job_plan_wish *wish, const struct job_control *control, struct error *err)
{
    memset(result, 0, sizeof *result);
    int code = settle(result, engine, wish, err);
    if (!code && job_is_cancelled(control)) {
        code = error_set(err, ERROR_CANCELLED, "the plan was cancelled");
    }
    if (!code && wish->target) {
        code = plan_one(result, engine, wish, err);
    } else if (!code) {
        code = plan_make(&result->plan, &engine->atlas.objects, &result->night, &result->settings,
                         wish->most, err);
    }
    if (!code) {
        job_progress(control, 1, 1);
    }
    return code;
}

int job_plan_card(const struct job_plan_result *result, const struct job_engine *engine,
                  enum page_format format, bool red, const struct file_target *target,
                  struct error *err)
{
    const struct figures *figures = engine->has_atlas ? &engine->atlas.figures : NULL;
    return card_write(target, format, red, &result->sheet, figures, err);
}

void job_plan_free(struct job_plan_result *result)
{
    plan_free(&result->plan);
    memset(result, 0, sizeof *result);
}
