/* The JSON form of aim's answer. */
#include "cli/aim_report.h"

#include "base/json.h"
#include "cli/aim_depth_report.h"

#include <math.h>

static void add_target(struct json *json, const struct aim_target *target)
{
    const struct sky_ellipse *shape = &target->shape;
    json_open(json, "target", '{');
    json_string(json, "name", target->name);
    json_number(json, "ra_deg", shape->ra_deg, 6);
    json_number(json, "dec_deg", shape->dec_deg, 6);
    if (shape->major_deg > 0) {
        json_number(json, "major_deg", 2 * shape->major_deg, 4);
        json_number(json, "minor_deg", 2 * shape->minor_deg, 4);
        if (shape->minor_deg < shape->major_deg && !shape->turn_unknown) {
            json_number(json, "angle_deg", shape->turn_deg, 1);
        }
    }
    json_close(json, '}');
}

static void add_place(struct json *json, const struct aim *aim)
{
    static const char *const rooms[] = {"no", "perhaps", "yes"};
    json_string(json, "in_frame", aim_verdict_key(aim->verdict));
    json_number(json, "share", aim->share, 4);
    json_bool(json, "margin_kept", aim->margin_kept);
    json_string(json, "fits", rooms[aim->room]);
    if (aim->has_pixel) {
        json_open(json, "pixel", '{');
        json_number(json, "x", aim->x, 2);
        json_number(json, "y", aim->y, 2);
        json_close(json, '}');
        json_open(json, "from_middle", '{');
        json_number(json, "right_widths", aim->right_part, 5);
        json_number(json, "up_heights", aim->up_part, 5);
        json_close(json, '}');
    }
}

static void add_turn(struct json *json, const struct aim *aim)
{
    json_open(json, "turn", '{');
    json_number(json, "right_deg", aim->right_deg, 5);
    json_number(json, "up_deg", aim->up_deg, 5);
    json_number(json, "right_fields", aim->right_fields, 4);
    json_number(json, "up_fields", aim->up_fields, 4);
    json_close(json, '}');
    json_number(json, "separation_deg", aim->separation_deg, 5);
    json_number(json, "position_angle_deg", aim->position_angle_deg, 3);
}

static void add_move(struct json *json, const char *key, const struct head_move *move)
{
    json_open(json, key, '{');
    json_number(json, "pan_right_deg", move->pan_deg, 5);
    json_number(json, "tilt_up_deg", move->tilt_deg, 5);
    if (move->short_deg > 0) {
        json_number(json, "short_deg", move->short_deg, 4);
    }
    json_close(json, '}');
}

static void add_head(struct json *json, const struct aim_head *head)
{
    json_open(json, "head", '{');
    if (head->name) {
        json_string(json, "name", head->name);
    }
    json_number(json, "lean_east_deg", head->head.lean_east_deg, 4);
    json_number(json, "lean_north_deg", head->head.lean_north_deg, 4);
    json_number(json, "skew_deg", head->head.skew_deg, 4);
    json_number(json, "squint_deg", head->head.squint_deg, 4);
    if (isfinite(head->error_deg)) {
        json_number(json, "error_deg", head->error_deg, 4);
    }
    json_close(json, '}');
}

static void add_occasion(struct json *json, const struct occasion *occasion)
{
    char when[40];
    if (occasion->has_utc) {
        time_write(when, sizeof when, occasion->mid, 2);
        json_string(json, "mid_utc", when);
    }
    if (occasion->has_place) {
        json_open(json, "place", '{');
        json_number(json, "latitude_deg", occasion->place.latitude_deg, 6);
        json_number(json, "longitude_deg", occasion->place.longitude_deg, 6);
        json_number(json, "height_m", occasion->place.height_m, 1);
        json_number(json, "pressure_hpa", occasion->place.pressure_hpa, 1);
        json_number(json, "temperature_c", occasion->place.temperature_c, 1);
        json_close(json, '}');
    }
}

static void add_horizon(struct json *json, const struct aim_answer *answer)
{
    const struct advice *advice = &answer->advice;
    if (answer->daylight) {
        json_number(json, "sun_would_be_at_deg", answer->sun_deg, 2);
    }
    if (!advice->has_horizon) {
        return;
    }
    json_open(json, "camera_horizon", '{');
    json_number(json, "azimuth_deg", advice->azimuth_deg, 4);
    json_number(json, "altitude_deg", advice->altitude_deg, 4);
    json_number(json, "roll_deg", advice->roll_deg, 4);
    json_close(json, '}');
    json_open(json, "target_horizon", '{');
    json_number(json, "azimuth_deg", advice->target_azimuth_deg, 4);
    json_number(json, "altitude_deg", advice->target_altitude_deg, 4);
    json_close(json, '}');
    add_move(json, "move", &advice->move);
    add_head(json, &answer->head);
    json_number(json, "clock_minute_deg", advice->minute_deg, 4);
    if (answer->has_clock_fault) {
        json_open(json, "clock_if_level", '{');
        json_number(json, "fast_s", answer->clock_fault.fast_s, 1);
        json_number(json, "error_s", answer->clock_fault.error_s, 1);
        json_close(json, '}');
    }
    if (advice->has_sun) {
        json_open(json, "sun", '{');
        json_number(json, "altitude_deg", advice->sun.altitude_deg, 2);
        json_number(json, "from_target_deg", advice->sun.target_deg, 2);
        json_number(json, "from_way_deg", advice->sun.way_deg, 2);
        json_close(json, '}');
    }
}

static void add_guide(struct json *json, const struct aim_answer *answer)
{
    const struct guide *guide = &answer->guide;
    if (!answer->has_guide) {
        return;
    }
    json_open(json, "guide", '{');
    if (guide->star->object) {
        json_string(json, "star", guide->star->object->id);
    }
    json_number(json, "x", guide->star->x, 1);
    json_number(json, "y", guide->star->y, 1);
    json_number(json, "to_x", guide->to_x, 1);
    json_number(json, "to_y", guide->to_y, 1);
    if (guide->mark && guide->mark->object) {
        json_string(json, "mark", guide->mark->object->id);
    }
    json_close(json, '}');
}

static void add_drift(struct json *json, const char *key, const struct drift *drift, double every_s)
{
    json_open(json, key, '{');
    json_number(json, "right_px_s", drift->right_px_s, 4);
    json_number(json, "up_px_s", drift->up_px_s, 4);
    json_bool(json, "inside", drift->inside);
    if (drift->changes) {
        json_number(json, drift->inside ? "leaves_s" : "enters_s", drift->change_s, 1);
        json_string(json, "edge", frame_edge_word(drift->edge));
        if (every_s > 0) {
            json_integer(json, "frames", (long)floor(drift->change_s / every_s));
        }
    }
    json_close(json, '}');
}

static void add_lead(struct json *json, const char *key, const struct lead *lead, long frames)
{
    json_open(json, key, '{');
    json_integer(json, "frames", frames);
    json_number(json, "pan_right_deg", lead->move.pan_deg, 5);
    json_number(json, "tilt_up_deg", lead->move.tilt_deg, 5);
    json_open(json, "target_at_start", '{');
    json_number(json, "right_widths", lead->right_part, 5);
    json_number(json, "up_heights", lead->up_part, 5);
    json_close(json, '}');
    json_number(json, "mean_px", lead->mean_px, 2);
    json_number(json, "spread_px", lead->spread_px, 2);
    json_close(json, '}');
}

static void add_path(struct json *json, const struct aim_answer *answer,
                     const struct aim_target *target)
{
    struct advice_step step[ADVICE_STEPS];
    int steps =
        answer->every_s > 0 ? advice_path(step, &answer->stand, target, answer->every_s) : 0;
    json_open(json, "path", '[');
    for (int i = 0; i < steps; i++) {
        json_open(json, NULL, '{');
        json_integer(json, "frames", step[i].frames);
        json_number(json, "x", step[i].x, 2);
        json_number(json, "y", step[i].y, 2);
        json_close(json, '}');
    }
    json_close(json, ']');
}

void aim_report_add_ahead(struct json *json, const struct aim_answer *answer,
                          const struct aim_target *target)
{
    static const char *const fits[] = {"turn_s", "affine_s", "homography_s"};
    const struct advice *advice = &answer->advice;
    if (answer->every_s > 0) {
        json_number(json, "every_s", answer->every_s, 3);
        json_bool(json, "every_guessed", answer->every_guessed);
    }
    add_drift(json, "drift", &advice->now, answer->every_s);
    add_path(json, answer, target);
    if (advice->has_drift) {
        add_drift(json, "drift_after_move", &advice->after, answer->every_s);
    }
    if (advice->has_lead) {
        long frames = lround((advice->batch.last_s - advice->batch.first_s) / answer->every_s) + 1;
        add_lead(json, "lead", &advice->lead, frames);
    }
    if (advice->longest > 0) {
        add_lead(json, "longest_batch", &advice->longest_lead, advice->longest);
    }
    json_open(json, "smear", '{');
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        json_number(json, fits[fit], advice->smear_s[fit], 1);
    }
    json_close(json, '}');
}

int aim_report_json(FILE *out, const struct solved_frame *solved, const struct aim_answer *answer,
                    const struct aim_context *context, struct error *err)
{
    struct json json = {0};
    solve_report_open(&json, solved, NULL);
    add_target(&json, &context->target);
    if (solved->solution.solved && answer->sun_there) {
        json_string(&json, "refused", "sun");
    } else if (solved->solution.solved) {
        add_place(&json, &answer->advice.aim);
        add_turn(&json, &answer->advice.aim);
        add_occasion(&json, &answer->occasion);
        add_horizon(&json, answer);
        add_guide(&json, answer);
        aim_report_add_ahead(&json, answer, &context->target);
        if (aim_depth_wanted(context->wish)) {
            aim_depth_write_json(&json, answer, context->wish);
        }
    }
    solve_report_add(&json, solved);
    return json_end_line(&json, out, err);
}
