#include "cli/plan_report.h"

#include "cli/plan_schema.h"
#include "plan/signal_words.h"

static void add_time(struct json *json, const char *key, struct utc utc)
{
    char text[32];
    time_write(text, sizeof text, utc, 0);
    schema_put_text(json, key, text);
}

static void add_span(struct json *json, const char *key, const struct dark_span *span)
{
    if (span->any) {
        schema_open(json, key);
        add_time(json, "start_utc", span->start);
        add_time(json, "end_utc", span->end);
        schema_put_number(json, "hours", dark_span_hours(span));
        schema_close(json);
    }
}

static void add_day(struct json *json, const char *key, const struct season_date *date)
{
    char text[48];
    if (date->any) {
        snprintf(text, sizeof text, "%04d-%02d-%02d", date->year, date->month, date->day);
        schema_put_text(json, key, text);
    }
}

static void add_season(struct json *json, const struct season *season)
{
    if (!season) {
        return;
    }
    schema_open(json, "season");
    schema_put_number(json, "least_hours", season->least_hours);
    schema_put_bool(json, "all_year", season->all_year);
    schema_open(json, "runs");
    for (int i = 0; i < season->runs; i++) {
        schema_open(json, NULL);
        add_day(json, "from", &season->run[i].from);
        add_day(json, "until", &season->run[i].until);
        schema_close(json);
    }
    schema_close(json);
    add_day(json, "next", &season->next);
    schema_open(json, "moonless");
    for (int i = 0; i < season->nights; i++) {
        schema_open(json, NULL);
        add_day(json, "date", &season->moonless[i].date);
        schema_put_number(json, "hours", season->moonless[i].hours);
        schema_close(json);
    }
    schema_close(json);
    schema_close(json);
}

static void add_night(struct json *json, const struct plan_sheet *sheet)
{
    static const char *const keys[DARKNESS_DEPTHS] = {NULL, "sun_below_horizon", "civil",
                                                      "nautical", "astronomical"};
    const struct darkness *night = sheet->night;
    char zone[100];
    schema_open(json, "night");
    schema_put_number(json, "latitude_deg", night->place.latitude_deg);
    schema_put_number(json, "longitude_deg", night->place.longitude_deg);
    schema_put_number(json, "utc_offset_min", sheet->utc_offset_min);
    plan_write_zone(zone, sizeof zone, sheet);
    schema_put_text(json, "zone", zone);
    add_span(json, "dark", darkness_whole(night));
    add_span(json, "own_hours", &night->own);
    if (night->own.any) {
        add_span(json, "own_dark", &night->dark);
    }
    for (int i = DARKNESS_SUNSET; i < DARKNESS_DEPTHS; i++) {
        add_span(json, keys[i], &night->below[i]);
    }
    schema_put_number(json, "sun_lowest_deg", night->sun_lowest_deg);
    add_day(json, "dark_again", &sheet->dark_again);
    schema_open(json, "moon");
    schema_put_number(json, "lit", night->moon_lit);
    schema_put_bool(json, "waxing", night->moon_waxing);
    schema_put_number(json, "dark_hours_without", night->moonless_hours);
    schema_open(json, "events");
    for (int i = 0; i < night->moon_events; i++) {
        schema_open(json, NULL);
        schema_put_text(json, "what", night->moon[i].rising ? "rise" : "set");
        add_time(json, "utc", night->moon[i].utc);
        schema_close(json);
    }
    schema_close(json);
    schema_close(json);
    schema_close(json);
}

static void add_camera(struct json *json, const struct plan_sheet *sheet)
{
    const struct plan_camera *camera = &sheet->settings->camera;
    double width, height;
    plan_field(&width, &height, camera);
    schema_open(json, "camera");
    schema_put_number(json, "focal_mm", camera->focal_mm);
    schema_put_number(json, "f_number", camera->f_number);
    if (sheet->settings->zoom.longest_mm > 0) {
        schema_put_number(json, "zoom_shortest_mm", sheet->settings->zoom.shortest_mm);
        schema_put_number(json, "zoom_longest_mm", sheet->settings->zoom.longest_mm);
    }
    schema_put_number(json, "width_deg", width);
    schema_put_number(json, "height_deg", height);
    schema_put_number(json, "scale_arcsec_px", plan_scale_arcsec(camera));
    schema_close(json);
}

static void add_members(struct json *json, const struct plan_item *item)
{
    schema_open(json, "with");
    for (int i = 1; i < item->members; i++) {
        schema_put_text(json, NULL, item->member[i].object->id);
    }
    schema_close(json);
}

static void add_frame(struct json *json, const struct plan_item *item)
{
    schema_open(json, "frame");
    schema_put_number(json, "focal_mm", item->camera.focal_mm);
    schema_put_number(json, "f_number", item->camera.f_number);
    schema_put_text(json, "zoom", zoom_reason_key((int)item->zoom));
    schema_put_bool(json, "fits", item->fit.fits);
    schema_put_number(json, "fill", item->fit.fill);
    schema_put_number(json, "size_share", item->size_share);
    schema_put_number(json, "area_share", item->area_share);
    schema_put_number(json, "ra_deg", item->fit.ra_deg);
    schema_put_number(json, "dec_deg", item->fit.dec_deg);
    schema_put_word(json, "hold", (int)item->fit.hold);
    schema_put_number(json, "roll_deg", item->fit.roll_deg);
    schema_put_number(json, "up_angle_deg", item->fit.up_deg);
    schema_close(json);
}

static void add_shots(struct json *json, const struct plan_item *item)
{
    static const char *const fits[] = {"turn", "affine", "homography"};
    const struct plan_shots *shots = &item->shots;
    schema_open(json, "shots");
    schema_put_number(json, "exposure_s", shots->exposure_s);
    schema_put_number(json, "trail_px", shots->trail_px);
    schema_put_number(json, "rule_of_500_s", shots->rule[PLAN_RULE_500].exposure_s);
    schema_put_number(json, "rule_of_300_s", shots->rule[PLAN_RULE_300].exposure_s);
    schema_put_number(json, "fine_trail_s", shots->rule[PLAN_RULE_FINE].exposure_s);
    schema_put_integer(json, "frames", shots->frames);
    schema_put_number(json, "clock_s", shots->clock_s);
    schema_put_number(json, "recentre_s", shots->batch.span_s);
    schema_put_integer(json, "recentre_frames", shots->batch.frames);
    schema_put_integer(json, "recentrings", shots->recentrings);
    schema_put_word(json, "recentre_by", (int)shots->batch.limit);
    if (shots->batch.has_smear) {
        schema_put_number(json, "widening", shots->batch.widening);
    }
    schema_put_integer(json, "group_frames", shots->batch.group_frames);
    if (shots->batch.has_smear) {
        schema_open(json, "smear_px");
        for (int fit = 0; fit < SMEAR_FITS; fit++) {
            schema_put_number(json, fits[fit], shots->batch.smear_px[fit]);
        }
        schema_close(json);
    }
    schema_put_number(json, "highest_deg", item->highest_deg);
    schema_put_number(json, "turn_deg", item->turn_deg);
    schema_close(json);
}

static void add_signal(struct json *json, const struct plan_item *item)
{
    if (item->has_signal) {
        schema_open(json, "signal");
        signal_put(json, &item->outlook);
        schema_put_number(json, "snr", item->snr);
        schema_close(json);
    }
}

static void add_item(struct json *json, const char *key, const struct plan_item *item)
{
    const struct object *object = item->member[0].object;
    char name[160];
    plan_write_name(name, sizeof name, item);
    schema_open(json, key);
    schema_put_text(json, "id", object->id);
    schema_put_text(json, "name", name);
    schema_put_number(json, "ra_deg", object->ra_deg);
    schema_put_number(json, "dec_deg", object->dec_deg);
    add_span(json, "window", &item->window.span);
    add_time(json, "begin_utc", item->begin);
    add_time(json, "best_utc", item->window.best);
    schema_put_number(json, "altitude_deg", item->window.best_altitude_deg);
    schema_put_number(json, "azimuth_deg", item->window.best_azimuth_deg);
    schema_put_number(json, "highest_deg", item->window.highest_deg);
    add_frame(json, item);
    add_members(json, item);
    add_shots(json, item);
    schema_put_number(json, "moon_separation_deg", item->moon_separation_deg);
    schema_put_number(json, "moon_altitude_deg", item->moon_altitude_deg);
    schema_put_number(json, "sky_mag_arcsec2", item->sky_mag);
    add_signal(json, item);
    schema_put_number(json, "score", item->score);
    schema_put_text(json, "reason", item->reason);
    schema_close(json);
}

static void add_in_frames(struct json *json, const struct frame_move *move)
{
    schema_put_number(json, "right_widths", move->right_widths);
    schema_put_number(json, "up_heights", move->up_heights);
}

static void add_star_steps(struct json *json, const struct plan_sheet *sheet)
{
    schema_open(json, "star_steps");
    for (int i = 0; sheet->star_steps && i < sheet->star_steps->steps; i++) {
        const struct star_step *step = &sheet->star_steps->step[i];
        schema_open(json, NULL);
        if (step->star) {
            schema_put_text(json, "star", step->star->id);
        }
        add_in_frames(json, &step->from_before);
        schema_close(json);
    }
    schema_close(json);
}

static void add_approach(struct json *json, const struct plan_sheet *sheet)
{
    const struct approach *approach = sheet->approach;
    const struct step_frame frame = plan_step_frame(sheet);
    struct frame_move move = {0, 0};
    schema_open(json, "way");
    for (int i = 0; i < approach->stops; i++) {
        const struct approach_stop *stop = &approach->stop[i];
        schema_open(json, NULL);
        if (stop->star) {
            schema_put_text(json, "star", stop->star->id);
        }
        schema_put_number(json, "azimuth_deg", stop->azimuth_deg);
        schema_put_number(json, "altitude_deg", stop->altitude_deg);
        schema_put_number(json, "pan_right_deg", stop->pan_deg);
        schema_put_number(json, "tilt_up_deg", stop->tilt_deg);
        if (i > 0) {
            frame_move_find(&move, &approach->stop[i - 1], stop, &frame);
        }
        add_in_frames(json, &move);
        schema_close(json);
    }
    schema_close(json);
    schema_put_number(json, "sun_altitude_deg", approach->sun_altitude_deg);
}

int plan_json_night(FILE *out, const struct plan_sheet *sheet, const struct plan *plan,
                    struct error *err)
{
    struct json json = {0};
    schema_begin(&json, &plan_schema);
    schema_put_format(&json);
    add_night(&json, sheet);
    add_camera(&json, sheet);
    if (plan->arch.any) {
        schema_open(&json, "milky_way");
        add_span(&json, "centre_up", &plan->arch.centre.span);
        add_time(&json, "best_utc", plan->arch.centre.best);
        schema_put_number(&json, "altitude_deg", plan->arch.centre.best_altitude_deg);
        schema_put_number(&json, "azimuth_deg", plan->arch.centre.best_azimuth_deg);
        schema_put_number(&json, "apex_deg", plan->arch.apex_deg);
        schema_put_number(&json, "apex_azimuth_deg", plan->arch.apex_azimuth_deg);
        schema_put_bool(&json, "moon_up", plan->arch.moon_up);
        schema_close(&json);
    }
    schema_open(&json, "targets");
    for (int i = 0; i < plan->count; i++) {
        add_item(&json, NULL, &plan->item[i]);
    }
    schema_close(&json);
    return schema_end_line(&json, out, err);
}

int plan_json_target(FILE *out, const struct plan_sheet *sheet, struct error *err)
{
    struct json json = {0};
    schema_begin(&json, &plan_target_schema);
    schema_put_format(&json);
    add_item(&json, "target", sheet->item);
    add_season(&json, sheet->season);
    add_approach(&json, sheet);
    add_star_steps(&json, sheet);
    add_night(&json, sheet);
    add_camera(&json, sheet);
    return schema_end_line(&json, out, err);
}
