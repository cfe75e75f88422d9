#include "cli/plan_report.h"

#include "base/json.h"
#include "plan/signal_words.h"

static void add_time(struct json *json, const char *key, struct utc utc)
{
    char text[32];
    time_write(text, sizeof text, utc, 0);
    json_string(json, key, text);
}

static void add_span(struct json *json, const char *key, const struct night_span *span)
{
    if (span->any) {
        json_open(json, key, '{');
        add_time(json, "start_utc", span->start);
        add_time(json, "end_utc", span->end);
        json_number(json, "hours", night_span_hours(span), 3);
        json_close(json, '}');
    }
}

static void add_night(struct json *json, const struct plan_sheet *sheet)
{
    static const char *const keys[NIGHT_DEPTHS] = {NULL, "sun_below_horizon", "civil", "nautical",
                                                   "astronomical"};
    const struct night *night = sheet->night;
    json_open(json, "night", '{');
    json_number(json, "latitude_deg", night->place.latitude_deg, 5);
    json_number(json, "longitude_deg", night->place.longitude_deg, 5);
    json_number(json, "utc_offset_min", sheet->utc_offset_min, 0);
    add_span(json, "dark", &night->dark);
    for (int i = NIGHT_SUNSET; i < NIGHT_DEPTHS; i++) {
        add_span(json, keys[i], &night->below[i]);
    }
    json_number(json, "sun_lowest_deg", night->sun_lowest_deg, 2);
    json_open(json, "moon", '{');
    json_number(json, "lit", night->moon_lit, 3);
    json_bool(json, "waxing", night->moon_waxing);
    json_number(json, "dark_hours_without", night->moonless_hours, 3);
    json_open(json, "events", '[');
    for (int i = 0; i < night->moon_events; i++) {
        json_open(json, NULL, '{');
        json_string(json, "what", night->moon[i].rising ? "rise" : "set");
        add_time(json, "utc", night->moon[i].utc);
        json_close(json, '}');
    }
    json_close(json, ']');
    json_close(json, '}');
    json_close(json, '}');
}

static void add_camera(struct json *json, const struct plan_sheet *sheet)
{
    const struct plan_camera *camera = &sheet->settings->camera;
    double width, height;
    plan_field(&width, &height, camera);
    json_open(json, "camera", '{');
    json_number(json, "focal_mm", camera->focal_mm, 2);
    json_number(json, "f_number", camera->f_number, 2);
    json_number(json, "width_deg", width, 4);
    json_number(json, "height_deg", height, 4);
    json_number(json, "scale_arcsec_px", plan_scale_arcsec(camera), 4);
    json_close(json, '}');
}

static void add_members(struct json *json, const struct plan_item *item)
{
    json_open(json, "with", '[');
    for (int i = 1; i < item->members; i++) {
        json_string(json, NULL, item->member[i].object->id);
    }
    json_close(json, ']');
}

static void add_frame(struct json *json, const struct plan_item *item)
{
    static const char *const holds[] = {"landscape", "portrait", "turned"};
    json_open(json, "frame", '{');
    json_bool(json, "fits", item->fit.fits);
    json_number(json, "fill", item->fit.fill, 3);
    json_number(json, "size_share", item->size_share, 4);
    json_number(json, "area_share", item->area_share, 5);
    json_number(json, "ra_deg", item->fit.ra_deg, 4);
    json_number(json, "dec_deg", item->fit.dec_deg, 4);
    json_string(json, "hold", holds[item->fit.hold]);
    json_number(json, "roll_deg", item->fit.roll_deg, 1);
    json_number(json, "up_angle_deg", item->fit.up_deg, 2);
    json_close(json, '}');
}

static void add_shots(struct json *json, const struct plan_item *item)
{
    static const char *const limits[] = {"room", "smear", "hour"};
    static const char *const fits[] = {"turn", "affine", "homography"};
    const struct plan_shots *shots = &item->shots;
    json_open(json, "shots", '{');
    json_number(json, "exposure_s", shots->exposure_s, 3);
    json_number(json, "trail_px", shots->trail_px, 2);
    json_number(json, "rule_of_500_s", shots->rule_s, 3);
    json_integer(json, "frames", shots->frames);
    json_number(json, "clock_s", shots->clock_s, 0);
    json_number(json, "recentre_s", shots->batch_s, 1);
    json_integer(json, "recentre_frames", shots->batch_frames);
    json_integer(json, "recentrings", shots->recentrings);
    json_string(json, "recentre_by", limits[shots->limit]);
    if (shots->has_smear) {
        json_open(json, "smear_px", '{');
        for (int fit = 0; fit < SMEAR_FITS; fit++) {
            json_number(json, fits[fit], shots->smear_px[fit], 3);
        }
        json_close(json, '}');
    }
    json_number(json, "highest_deg", item->highest_deg, 2);
    json_number(json, "turn_deg", item->turn_deg, 2);
    json_close(json, '}');
}

static void add_signal(struct json *json, const struct plan_item *item)
{
    if (item->has_signal) {
        json_open(json, "signal", '{');
        signal_write_json(json, &item->outlook);
        json_number(json, "snr", item->snr, 3);
        json_close(json, '}');
    }
}

static void add_item(struct json *json, const char *key, const struct plan_item *item)
{
    const struct object *object = item->member[0].object;
    char name[160];
    plan_write_name(name, sizeof name, item);
    json_open(json, key, '{');
    json_string(json, "id", object->id);
    json_string(json, "name", name);
    json_number(json, "ra_deg", object->ra_deg, 4);
    json_number(json, "dec_deg", object->dec_deg, 4);
    add_span(json, "window", &item->window.span);
    add_time(json, "begin_utc", item->begin);
    add_time(json, "best_utc", item->window.best);
    json_number(json, "altitude_deg", item->window.best_altitude_deg, 2);
    json_number(json, "azimuth_deg", item->window.best_azimuth_deg, 2);
    json_number(json, "highest_deg", item->window.highest_deg, 2);
    add_frame(json, item);
    add_members(json, item);
    add_shots(json, item);
    json_number(json, "moon_separation_deg", item->moon_separation_deg, 1);
    json_number(json, "moon_altitude_deg", item->moon_altitude_deg, 1);
    json_number(json, "sky_mag_arcsec2", item->sky_mag, 2);
    add_signal(json, item);
    json_number(json, "score", item->score, 2);
    json_string(json, "reason", item->reason);
    json_close(json, '}');
}

static void add_approach(struct json *json, const struct approach *approach)
{
    json_open(json, "way", '[');
    for (int i = 0; i < approach->stops; i++) {
        const struct approach_stop *stop = &approach->stop[i];
        json_open(json, NULL, '{');
        if (stop->star) {
            json_string(json, "star", stop->star->id);
        }
        json_number(json, "azimuth_deg", stop->azimuth_deg, 2);
        json_number(json, "altitude_deg", stop->altitude_deg, 2);
        json_number(json, "pan_right_deg", stop->pan_deg, 2);
        json_number(json, "tilt_up_deg", stop->tilt_deg, 2);
        json_close(json, '}');
    }
    json_close(json, ']');
    json_number(json, "sun_altitude_deg", approach->sun_altitude_deg, 2);
}

int plan_json_night(FILE *out, const struct plan_sheet *sheet, const struct plan *plan,
                    struct error *err)
{
    struct json json = {0};
    json_open(&json, NULL, '{');
    add_night(&json, sheet);
    add_camera(&json, sheet);
    json_open(&json, "targets", '[');
    for (int i = 0; i < plan->count; i++) {
        add_item(&json, NULL, &plan->item[i]);
    }
    json_close(&json, ']');
    return json_end_line(&json, out, err);
}

int plan_json_target(FILE *out, const struct plan_sheet *sheet, struct error *err)
{
    struct json json = {0};
    json_open(&json, NULL, '{');
    add_item(&json, "target", sheet->item);
    add_approach(&json, sheet->approach);
    add_night(&json, sheet);
    add_camera(&json, sheet);
    return json_end_line(&json, out, err);
}
