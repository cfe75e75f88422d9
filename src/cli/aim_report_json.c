/* The JSON form of aim's answer. */
#include "cli/aim_report.h"

#include "cli/aim_depth_report.h"
#include "cli/aim_schema.h"
#include "cli/parts_schema.h"
#include "jobs/path_json.h"

#include <math.h>

/* known: of what moves it is known where it stands. */
static void add_target(struct json *json, const struct aim_target *target, bool known)
{
    const struct sky_ellipse *shape = &target->shape;
    schema_open(json, "target");
    schema_put_text(json, "name", target->name);
    if (known) {
        schema_put_number(json, "ra_deg", shape->ra_deg);
        schema_put_number(json, "dec_deg", shape->dec_deg);
    }
    if (known && shape->major_deg > 0) {
        schema_put_number(json, "major_deg", 2 * shape->major_deg);
        schema_put_number(json, "minor_deg", 2 * shape->minor_deg);
        if (shape->minor_deg < shape->major_deg && !shape->turn_unknown) {
            schema_put_number(json, "angle_deg", shape->turn_deg);
        }
    }
    schema_close(json);
}

static void add_place(struct json *json, const struct aim *aim)
{
    schema_put_text(json, "in_frame", aim_verdict_key(aim->verdict));
    schema_put_number(json, "share", aim->share);
    schema_put_bool(json, "margin_kept", aim->margin_kept);
    schema_put_text(json, "fits", aim_room_key((int)aim->room));
    if (aim->has_pixel) {
        parts_put_pixel(json, aim->x, aim->y);
        schema_open(json, "from_middle");
        schema_put_number(json, "right_widths", aim->right_part);
        schema_put_number(json, "up_heights", aim->up_part);
        schema_close(json);
    }
}

static void add_turn(struct json *json, const struct aim *aim)
{
    schema_open(json, "turn");
    schema_put_number(json, "right_deg", aim->right_deg);
    schema_put_number(json, "up_deg", aim->up_deg);
    schema_put_number(json, "right_fields", aim->right_fields);
    schema_put_number(json, "up_fields", aim->up_fields);
    schema_close(json);
    schema_put_number(json, "separation_deg", aim->separation_deg);
    schema_put_number(json, "position_angle_deg", aim->position_angle_deg);
}

static void add_head(struct json *json, const struct aim_head *head)
{
    schema_open(json, "head");
    if (head->name) {
        schema_put_text(json, "name", head->name);
    }
    parts_put_head(json, &head->head);
    if (isfinite(head->error_deg)) {
        schema_put_number(json, "error_deg", head->error_deg);
    }
    schema_close(json);
}

static void add_occasion(struct json *json, const struct occasion *occasion)
{
    char when[40];
    if (occasion->has_utc) {
        time_write(when, sizeof when, occasion->mid, 2);
        schema_put_text(json, "mid_utc", when);
    }
    if (occasion->has_place) {
        schema_open(json, "place");
        schema_put_number(json, "latitude_deg", occasion->place.latitude_deg);
        schema_put_number(json, "longitude_deg", occasion->place.longitude_deg);
        schema_put_number(json, "height_m", occasion->place.height_m);
        schema_put_number(json, "pressure_hpa", occasion->place.pressure_hpa);
        schema_put_number(json, "temperature_c", occasion->place.temperature_c);
        schema_close(json);
    }
}

static void add_hiding(struct json *json, const struct aim_answer *answer)
{
    const struct hiding *hiding = &answer->hiding;
    if (!hiding->known) {
        return;
    }
    schema_open(json, "skyline");
    schema_put_bool(json, "hidden", hiding->hidden);
    if (hiding->changes) {
        schema_put_number(json, hiding->hidden ? "appears_s" : "hides_s", hiding->change_s);
        schema_put_number(json, "azimuth_deg", hiding->azimuth_deg);
        if (answer->cadence_s > 0) {
            schema_put_integer(json, "frames",
                               (long long)floor(hiding->change_s / answer->cadence_s));
        }
    }
    schema_close(json);
}

static void add_horizon(struct json *json, const struct aim_answer *answer)
{
    const struct advice *advice = &answer->advice;
    if (answer->daylight) {
        schema_put_number(json, "sun_would_be_at_deg", answer->sun_deg);
    }
    if (!advice->has_horizon) {
        return;
    }
    schema_open(json, "camera_horizon");
    schema_put_number(json, "azimuth_deg", advice->azimuth_deg);
    schema_put_number(json, "altitude_deg", advice->altitude_deg);
    schema_put_number(json, "roll_deg", advice->roll_deg);
    schema_close(json);
    schema_open(json, "target_horizon");
    schema_put_number(json, "azimuth_deg", advice->target_azimuth_deg);
    schema_put_number(json, "altitude_deg", advice->target_altitude_deg);
    schema_close(json);
    add_hiding(json, answer);
    schema_open(json, "move");
    parts_put_move(json, &advice->move);
    schema_close(json);
    add_head(json, &answer->head);
    schema_put_number(json, "clock_minute_deg", advice->minute_deg);
    if (answer->has_clock_fault) {
        parts_put_clock(json, &answer->clock_fault);
    }
    if (advice->has_sun) {
        schema_open(json, "sun");
        schema_put_number(json, "altitude_deg", advice->sun.altitude_deg);
        schema_put_number(json, "from_target_deg", advice->sun.target_deg);
        schema_put_number(json, "from_way_deg", advice->sun.way_deg);
        schema_close(json);
    }
}

static void add_cue(struct json *json, const struct aim_answer *answer)
{
    const struct cue *cue = &answer->cue;
    if (!answer->has_cue) {
        return;
    }
    schema_open(json, "guide");
    if (cue->star->object) {
        schema_put_text(json, "star", cue->star->object->id);
    }
    schema_put_number(json, "x", cue->star->x);
    schema_put_number(json, "y", cue->star->y);
    schema_put_number(json, "to_x", cue->to_x);
    schema_put_number(json, "to_y", cue->to_y);
    if (cue->mark && cue->mark->object) {
        schema_put_text(json, "mark", cue->mark->object->id);
    }
    schema_close(json);
}

static void add_error(struct json *json, const char *key, double error)
{
    if (isfinite(error)) {
        schema_put_number(json, key, error);
    }
}

static void add_drift(struct json *json, const char *key, const struct drift *drift, double error_s,
                      double cadence_s)
{
    schema_open(json, key);
    schema_put_number(json, "right_px_s", drift->right_px_s);
    schema_put_number(json, "up_px_s", drift->up_px_s);
    schema_put_bool(json, "inside", drift->inside);
    if (drift->changes) {
        schema_put_number(json, drift->inside ? "leaves_s" : "enters_s", drift->change_s);
        add_error(json, drift->inside ? "leaves_s_error" : "enters_s_error", error_s);
        schema_put_text(json, "edge", frame_edge_word(drift->edge));
        if (cadence_s > 0) {
            schema_put_integer(json, "frames", (long long)floor(drift->change_s / cadence_s));
        }
    }
    schema_close(json);
}

static void add_lead(struct json *json, const char *key, const struct lead *lead, long frames,
                     double frames_error)
{
    schema_open(json, key);
    schema_put_integer(json, "frames", frames);
    schema_put_number(json, "pan_right_deg", lead->move.pan_deg);
    schema_put_number(json, "tilt_up_deg", lead->move.tilt_deg);
    schema_open(json, "target_at_start");
    schema_put_number(json, "right_widths", lead->right_part);
    schema_put_number(json, "up_heights", lead->up_part);
    schema_close(json);
    add_error(json, "frames_error", frames_error);
    schema_put_number(json, "mean_px", lead->mean_px);
    schema_put_number(json, "spread_px", lead->spread_px);
    schema_close(json);
}

void aim_report_add_ahead(struct json *json, const struct aim_answer *answer,
                          const struct advice_error *error, const struct aim_target *target)
{
    static const char *const fits[] = {"turn_s", "affine_s", "homography_s"};
    static const char *const errors[] = {"turn_s_error", "affine_s_error", "homography_s_error"};
    const struct advice *advice = &answer->advice;
    if (answer->cadence_s > 0) {
        schema_put_number(json, "cadence_s", answer->cadence_s);
        schema_put_bool(json, "every_guessed", answer->every_guessed);
    }
    add_drift(json, "drift", &advice->now, error->now_s, answer->cadence_s);
    path_json_put(json, answer, target);
    if (advice->has_drift) {
        add_drift(json, "drift_after_move", &advice->after, error->after_s, answer->cadence_s);
    }
    if (advice->has_lead) {
        long frames =
            lround((advice->batch.last_s - advice->batch.first_s) / answer->cadence_s) + 1;
        add_lead(json, "lead", &advice->lead, frames, (double)NAN);
    }
    if (advice->longest > 0) {
        add_lead(json, "longest_batch", &advice->longest_lead, advice->longest,
                 error->longest_frames);
    }
    schema_open(json, "smear");
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        schema_put_number(json, fits[fit], advice->smear_s[fit]);
    }
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        add_error(json, errors[fit], error->smear_s[fit]);
    }
    schema_close(json);
}

int aim_report_json(FILE *out, const struct solved_frame *solved, const struct aim_answer *answer,
                    const struct aim_context *context, struct error *err)
{
    struct json json = {0};
    solve_report_open(&json, &aim_schema, solved, NULL);
    bool is_solved = solved->solution.solved;
    const struct aim_target *target = is_solved ? &answer->target : &context->target;
    add_target(&json, target, is_solved ? !answer->no_when : target->moves == WANDERER_NONE);
    if (is_solved && answer->sun_there) {
        schema_put_text(&json, "refused", "sun");
    } else if (is_solved && answer->no_when) {
        schema_put_text(&json, "refused", "time");
    } else if (is_solved) {
        struct advice_error advice_error;
        aim_answer_error(&advice_error, answer);
        add_place(&json, &answer->advice.aim);
        add_turn(&json, &answer->advice.aim);
        add_occasion(&json, &answer->occasion);
        parts_put_hours(&json, context->plan);
        parts_put_clock_doubt(&json, &answer->clock_doubt);
        add_horizon(&json, answer);
        add_error(&json, "pan_right_deg_error", advice_error.pan_deg);
        add_error(&json, "tilt_up_deg_error", advice_error.tilt_deg);
        add_cue(&json, answer);
        aim_report_add_ahead(&json, answer, &advice_error, &answer->target);
        if (aim_depth_wanted(context->wish)) {
            aim_depth_write_json(&json, answer, context->wish);
        }
    }
    solve_report_add(&json, solved);
    return schema_end_line(&json, out, err);
}
