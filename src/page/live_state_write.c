/* The JSON of the state. */
#include "page/live_state.h"

#include "base/schema.h"
#include "base/stopwatch.h"
#include "night/judge.h"
#include "page/live_drawing.h"
#include "page/live_schema.h"

#include <math.h>
#include <stdlib.h>

/* passed_s: since it was made. */
static void put_act(struct json *json, const char *key, const struct live_act *act, double passed_s)
{
    schema_open(json, key);
    schema_put_text(json, "text", act->text);
    schema_put_bool(json, "now", act->now);
    if (isfinite(act->frames)) {
        schema_put_number(json, "frames", act->frames);
    }
    if (isfinite(act->due_s)) {
        schema_put_number(json, "due_s", fmax(0, act->due_s - passed_s));
    }
    schema_close(json);
}

/* The newest alert that asks for something else than a move comes before the move. */
static bool find_act(struct live_act *act, const struct live_state *state)
{
    for (int i = 0; i < state->alerts; i++) {
        if (live_act_of_alert(act, state->alert[i].alert.kind)) {
            return true;
        }
    }
    return false;
}

static void put_acts(struct json *json, const struct live_state *state)
{
    double passed_s = state->act_s > 0 ? stopwatch_s() - state->act_s : 0;
    struct live_act first;
    bool other = find_act(&first, state);
    put_act(json, "act", other ? &first : &state->act, other ? 0 : passed_s);
    if (other) {
        put_act(json, "then", &state->act, passed_s);
    }
}

static void put_alerts(struct json *json, const struct live_state *state)
{
    schema_open(json, "alerts");
    for (int i = 0; i < state->alerts; i++) {
        const struct live_alert *each = &state->alert[i];
        schema_open(json, NULL);
        schema_put_integer(json, "id", each->id);
        schema_put_word(json, "alert", (int)each->alert.kind);
        schema_put_bool(json, "loud", alert_is_loud(each->alert.kind));
        schema_put_text(json, "title", alert_title(each->alert.kind));
        schema_put_text(json, "text", each->alert.text);
        schema_put_integer(json, "frame", each->frame);
        schema_close(json);
    }
    schema_close(json);
}

static void put_last(struct json *json, const struct live_state *state,
                     const struct judgement *judgement)
{
    const struct night_frame *frame = &state->frames.frame[state->frames.count - 1];
    schema_open(json, "last");
    schema_put_text(json, "name", state->name);
    schema_put_text(json, "clock", state->clock);
    schema_put_word(json, "verdict", (int)judgement->verdict);
    schema_put_text(json, "text",
                    judgement->reason[0] ? judgement->reason : night_frame_says(frame));
    schema_put_bool(json, "solved", frame->solved);
    schema_put_integer(json, "stars", frame->detected);
    schema_put_number(json, "since_s", state->came_s > 0 ? stopwatch_s() - state->came_s : NAN);
    schema_close(json);
}

/* Each frame is judged beside all of the night so far, as the review will. */
struct sums {
    char *ribbon; /* a letter a frame */
    struct judgement last;
    double got_s;
    int kept;
};

static int judge_all(struct sums *sums, const struct live_state *state, struct error *err)
{
    static const char letter[JUDGE_VERDICTS] = {'k', 'd', 'x', 'a'};
    const struct judge_rules rules = judge_usual();
    const struct night_frame *frame = state->frames.frame;
    int count = state->frames.count;
    struct judge_usual_frame usual;
    sums->ribbon = calloc((size_t)count + 1, 1);
    int code = sums->ribbon ? judge_find_usual(&usual, frame, count, err) : error_memory(err);
    for (int i = 0; !code && i < count; i++) {
        judge_frame(&sums->last, &frame[i], &usual, &rules);
        bool keep = sums->last.verdict == JUDGE_KEEP;
        sums->ribbon[i] = letter[sums->last.verdict];
        sums->kept += keep;
        sums->got_s += keep ? frame[i].exposure_s : 0;
    }
    return code;
}

static void put_glimpse(struct json *json, const struct live_glimpse *glimpse)
{
    if (glimpse->width == 0) {
        return;
    }
    schema_open(json, "glimpse");
    schema_put_text(json, "text", glimpse->text);
    schema_put_text(json, "frames", glimpse->frames);
    schema_put_integer(json, "width", glimpse->width);
    schema_put_integer(json, "height", glimpse->height);
    schema_open(json, "outline");
    for (int i = 0; i < glimpse->corners; i++) {
        schema_put_number(json, NULL, glimpse->outline[i][0]);
        schema_put_number(json, NULL, glimpse->outline[i][1]);
    }
    schema_close(json);
    schema_close(json);
}

static void put_light(struct json *json, const struct live_state *state, const struct sums *sums)
{
    schema_open(json, "light");
    schema_put_number(json, "got_s", sums->got_s);
    schema_put_integer(json, "kept", sums->kept);
    if (state->wanted_s > 0) {
        schema_put_number(json, "wanted_s", state->wanted_s);
    }
    schema_close(json);
}

static void put_target(struct json *json, const struct live_state *state)
{
    schema_put_text(json, "target", state->target);
    if (state->is_wanted) {
        schema_put_text(json, "target_next", state->wanted.target.name);
    }
    if (state->wanted.batch > 0) {
        schema_put_integer(json, "batch", state->wanted.batch);
    }
}

static void put_frame(struct json *json, const struct live_state *state, const struct sums *sums)
{
    if (state->moved[0]) {
        schema_open(json, "moved");
        schema_put_text(json, "text", state->moved);
        schema_put_integer(json, "frame", state->moved_frame);
        schema_close(json);
    }
    if (state->answer) {
        live_drawing_put(json, state->answer, state->margin_percent);
        schema_put_integer(json, "drawing_frame", state->answer_frame);
    }
    if (state->name[0]) {
        put_last(json, state, &sums->last);
    }
}

int live_state_write(struct json *json, const struct live_state *state, struct error *err)
{
    struct sums sums = {0};
    int code = judge_all(&sums, state, err);
    if (!code) {
        schema_begin(json, &live_schema);
        schema_put_format(json);
        put_target(json, state);
        schema_put_integer(json, "frames", state->frames.count);
        put_acts(json, state);
        put_alerts(json, state);
        put_frame(json, state, &sums);
        schema_put_text(json, "ribbon", sums.ribbon);
        put_light(json, state, &sums);
        put_glimpse(json, &state->glimpse);
        if (state->trouble[0]) {
            schema_put_text(json, "trouble", state->trouble);
        }
        schema_close(json);
        code = json->failed ? error_memory(err) : 0;
    }
    free(sums.ribbon);
    return code;
}
