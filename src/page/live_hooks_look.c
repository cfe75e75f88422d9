/* A picture that was sent: where it points, and the move. */
#include "page/live_parts.h"

#include "base/text.h"
#include "page/live_drawing.h"
#include "page/live_schema.h"

#include <stdlib.h>

static void put_sentence(struct json *json, const struct job_aim_result *result)
{
    char text[600], ra[40], dec[40], width[24], height[24];
    const struct solution *solution = &result->solved.solution;
    double ra_deg, dec_deg, wide, high;
    schema_put_bool(json, "solved", solution->solved);
    if (!solution->solved) {
        schema_put_text(json, "text", solution->why);
        return;
    }
    const struct wcs *wcs = &solution->wcs;
    wcs_radec(&ra_deg, &dec_deg, wcs, (wcs->width - 1) / 2.0, (wcs->height - 1) / 2.0);
    wcs_field(wcs, &wide, &high);
    text_write_ra(ra, sizeof ra, ra_deg);
    text_write_dec(dec, sizeof dec, dec_deg);
    text_write_angle(width, sizeof width, wide);
    text_write_angle(height, sizeof height, high);
    snprintf(text, sizeof text, "points to %s %s; %s wide, %s high", ra, dec, width, height);
    schema_put_text(json, "text", text);
    schema_put_number(json, "ra_deg", ra_deg);
    schema_put_number(json, "dec_deg", dec_deg);
}

static void write_answer(struct json *json, const struct job_aim_result *result, double margin)
{
    char text[400];
    const struct aim_answer *answer = &result->answer;
    schema_begin(json, &live_sight_schema);
    put_sentence(json, result);
    if (result->solved.solution.solved && !aim_answer_is_refused(answer)) {
        advice_write_move(text, sizeof text, &answer->advice, advice_move(&answer->advice));
        schema_put_text(json, "move", text);
        aim_write_verdict(text, sizeof text, &answer->advice.aim, &answer->target);
        schema_put_text(json, "verdict", text);
        live_drawing_put(json, answer, margin);
    }
    schema_close(json);
}

static void write_failure(struct json *json, const struct error *err)
{
    schema_begin(json, &live_sight_schema);
    schema_put_bool(json, "solved", false);
    schema_put_text(json, "text", err->text);
    schema_close(json);
}

/* The hints of the command line are about the camera that is watched, and this may be another. */
static void look_at(struct live_task *task, const struct job_control *control)
{
    struct live *live = task->context;
    struct job_engine *engine = live->wish->engine;
    struct job_aim_result *result = calloc(1, sizeof *result);
    const struct picture_source picture =
        picture_source_bytes(task->bytes, task->size, "the picture");
    struct error err = {0};
    pthread_mutex_lock(&live->lock);
    struct job_aim_wish wish = {.aim = live->wish->watch->aim, .target = live->state.wanted.target};
    pthread_mutex_unlock(&live->lock);
    wish.aim.centre = true;
    wish.aim.cadence_s = 0;
    int code = result ? 0 : error_memory(&err);
    if (!code && job_engine_stale(engine)) {
        code = job_engine_renew(engine, &err);
    }
    code = code ? code : job_aim(result, engine, &picture, &wish, control, &err);
    if (code) {
        write_failure(&task->answer, &err);
    } else {
        write_answer(&task->answer, result, wish.aim.margin_percent);
    }
    if (result) {
        job_aim_free(result);
    }
    free(result);
}

bool live_hooks_look_at(void *context, struct live_task *task)
{
    struct live *live = context;
    task->work = look_at;
    task->context = live;
    return live_worker_give(&live->worker, task);
}
