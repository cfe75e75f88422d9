#include "jobs/learn_head.h"

#include "base/text.h"
#include "jobs/rig_keep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What a head gives when it is clamped, and a tripod when it is touched (assumed; a solution is a
 * hundred times as good). */
static const double noise_deg = 0.02;

/* A smaller turn tells too little; an axis farther off was no movement of that axis alone. */
static const double least_turn_deg = 1, farthest_off_deg = 20;

static const double one_night_s = 43200;

static int find_views(struct view **view, const struct aim_series *series, struct error *err)
{
    *view = calloc((size_t)series->count, sizeof **view);
    if (!*view) {
        return error_memory(err);
    }
    for (int i = 0; i < series->count; i++) {
        const struct aim_sight *sight = &series->sight[i];
        struct ground ground;
        struct stand stand;
        if (!occasion_has_horizon(&sight->occasion) ||
            !occasion_ground(&ground, &sight->occasion, true)) {
            error_set(err, ERROR_USAGE,
                      "%s: measuring an axis of the head needs the place and the time in UTC",
                      series->frame[i].name);
            return error_remedied(err, ERROR_USAGE, REMEDY_PLACE_AND_ZONE);
        }
        stand_make(&stand, &sight->wcs, &ground);
        (*view)[i] = stand.view;
    }
    return 0;
}

/* Of this night, so that its pan axis still holds. */
static bool is_fresh(const struct rig_head *head, const struct occasion *occasion)
{
    return head && head->learned.known &&
           fabs(time_between(head->learned.utc, occasion->mid)) < one_night_s;
}

static int learn(struct learned_head *learned, const struct view *view, int views,
                 const struct aim_context *context, enum head_axis which, struct error *err)
{
    const struct rig_head *known = context->engine->rig.rig.head;
    const char *movement = which == HEAD_PAN ? "pan" : "tilt";
    struct head_lesson *lesson = &learned->lesson;
    if (!head_learn(lesson, which, view, views, noise_deg, least_turn_deg)) {
        return error_set(err, ERROR_NO,
                         "the camera turned by only %.2f° between these frames: %s it by 5° or "
                         "more, and take another",
                         lesson->angle_deg, movement);
    }
    if (lesson->off_deg > farthest_off_deg) {
        return error_set(err, ERROR_NO,
                         "the camera turned about an axis %.0f° from that of a %s: something else "
                         "was moved too; nothing is kept",
                         lesson->off_deg, movement);
    }
    bool fresh = is_fresh(known, &learned->occasion);
    learned->error_deg = lesson->error_deg;
    if (fresh) {
        learned->head = (struct head){known->lean_east_deg, known->lean_north_deg, known->skew_deg,
                                      known->squint_deg};
        learned->error_deg =
            fmax(lesson->error_deg, isfinite(known->error_deg) ? known->error_deg : 0);
    }
    head_keep(&learned->head, lesson, fresh);
    return 0;
}

static int keep(const struct learned_head *learned, struct error *err)
{
    char number[5][32], when[32], section[RIG_NAME_SIZE + 8];
    const double value[5] = {learned->head.lean_east_deg, learned->head.lean_north_deg,
                             learned->head.skew_deg, learned->head.squint_deg, learned->error_deg};
    for (int i = 0; i < 5; i++) {
        snprintf(number[i], sizeof number[i], "%.3f", text_rounded(value[i], 3));
    }
    time_write(when, sizeof when, learned->occasion.start, 0);
    snprintf(section, sizeof section, "head %s", learned->name);
    const struct rig_value values[] = {{"lean east", number[0]}, {"lean north", number[1]},
                                       {"skew", number[2]},      {"squint", number[3]},
                                       {"error", number[4]},     {"learned", when}};
    return rig_keep(learned->file, section, values, sizeof values / sizeof *values, err);
}

int learn_head(struct learned_head *learned, const struct aim_series *series,
               const struct aim_context *context, enum head_axis which, const char *name,
               const char *file, struct error *err)
{
    const struct rig_head *known = context->engine->rig.rig.head;
    struct view *view = NULL;
    memset(learned, 0, sizeof *learned);
    if (series->count < 2) {
        return error_set(err, ERROR_NO,
                         "measuring an axis of the head needs two solved frames with a time, "
                         "before and after the movement");
    }
    learned->occasion = series->sight[series->count - 1].occasion;
    snprintf(learned->file, sizeof learned->file, "%s", file);
    snprintf(learned->name, sizeof learned->name, "%s",
             name    ? name
             : known ? known->entry.name
                     : "tripod");
    int code = find_views(&view, series, err);
    if (!code) {
        code = learn(learned, view, series->count, context, which, err);
    }
    free(view);
    if (!code) {
        code = keep(learned, err);
    }
    learned->has_clock = !code && context->wish->level && which == HEAD_PAN &&
                         clock_from_pan(&learned->clock, &learned->lesson, &learned->occasion.place,
                                        context->wish->level_deg);
    return code;
}
