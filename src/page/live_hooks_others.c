/* What else is up. */
#include "page/live_parts.h"

#include "jobs/job_plan.h"
#include "objects/caption.h"
#include "page/live_schema.h"
#include "plan/plan_words.h"
#include "sky/time.h"

#include <math.h>

enum { OTHERS_MOST = 12, OTHERS_SHOWN = 6 };

static void put_item(struct json *json, const struct job_plan_result *result,
                     const struct plan_item *item)
{
    char name[120], id[80], hours[40];
    const struct object *object = item->member[0].object;
    caption_full(name, sizeof name, object);
    caption_id(id, sizeof id, object);
    plan_write_span(hours, sizeof hours, &item->window.span, result->sheet.utc_offset_min);
    schema_open(json, NULL);
    schema_put_text(json, "id", id);
    schema_put_text(json, "name", name);
    schema_put_text(json, "hours", hours);
    schema_put_number(json, "altitude_deg", item->highest_deg);
    schema_put_text(json, "why", item->reason);
    schema_close(json);
}

/* What is up now, or comes up within the hour; not what is being taken anyway. */
static bool is_wanted(const struct plan_item *item, struct utc now, const struct aim_target *target)
{
    const double soon_s = 3600;
    const struct dark_span *span = &item->window.span;
    return span->any && time_between(now, span->end) > soon_s &&
           time_between(now, span->start) < soon_s && item->member[0].object != target->object;
}

static void write_answer(struct json *json, const struct job_plan_result *result, struct utc now,
                         const struct aim_target *target, const char *failure)
{
    int shown = 0;
    schema_begin(json, &live_others_schema);
    schema_open(json, "others");
    for (int i = 0; !failure && i < result->plan.count && shown < OTHERS_SHOWN; i++) {
        if (is_wanted(&result->plan.item[i], now, target)) {
            put_item(json, result, &result->plan.item[i]);
            shown++;
        }
    }
    schema_close(json);
    schema_put_text(json, "text",
                    failure ? failure
                    : shown ? "up now for at least an hour, best first"
                            : "nothing else is worth it now");
    schema_close(json);
}

static void find_others(struct live_task *task, const struct job_control *control)
{
    struct live *live = task->context;
    struct job_plan_wish wish = JOB_PLAN_USUAL;
    struct job_plan_result result = {0};
    struct error err = {0};
    pthread_mutex_lock(&live->lock);
    struct live_gear gear = live->gear;
    struct aim_target target = live->state.wanted.target;
    pthread_mutex_unlock(&live->lock);
    wish.most = OTHERS_MOST;
    wish.evening.own_offset_min = live->wish->own_offset_min;
    wish.evening.now = gear.has_time ? gear.when : live->wish->watch->aim.occasion.today;
    wish.gear.focal_mm = gear.focal_mm;
    wish.gear.f_number = gear.f_number;
    wish.gear.pixel_um = gear.pixel_um;
    wish.gear.sensor_width_mm = gear.width_mm;
    wish.gear.sensor_height_mm = gear.height_mm;
    int code = job_plan(&result, live->wish->engine, &wish, control, &err);
    write_answer(&task->answer, &result, wish.evening.now, &target, code ? err.text : NULL);
    job_plan_free(&result);
}

bool live_hooks_others(void *context, struct live_task *task)
{
    struct live *live = context;
    task->work = find_others;
    task->context = live;
    return live_worker_give(&live->worker, task);
}
