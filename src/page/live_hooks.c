#include "page/live_parts.h"

#include "base/text.h"
#include "jobs/job_aim.h"

/* "" leaves it as it is; 0 is as advised. */
static bool read_batch(int *batch, const char *text, struct error *err)
{
    const long most = 100000;
    long number;
    if (text[0] == '\0') {
        return true;
    }
    if (!text_read_long(&number, text) || number < 0 || number > most) {
        error_set(err, ERROR_USAGE, "frames per batch: expected a whole number, 0 for as advised");
        return false;
    }
    *batch = (int)number;
    return true;
}

static bool read_hours(double *seconds, const char *text, struct error *err)
{
    const double most = 1000;
    double hours;
    if (text[0] == '\0') {
        return true;
    }
    if (!text_read_double(&hours, text) || hours < 0 || hours > most) {
        error_set(err, ERROR_USAGE, "hours of light: expected a number, 0 for as many as come");
        return false;
    }
    *seconds = hours * 3600;
    return true;
}

bool live_hooks_want(void *context, const struct live_form *form, struct error *err)
{
    struct live *live = context;
    pthread_mutex_lock(&live->lock);
    struct watch_change wanted = live->state.wanted;
    double wanted_s = live->state.wanted_s;
    pthread_mutex_unlock(&live->lock);
    bool other = form->target[0] || form->batch[0];
    if ((form->target[0] &&
         job_aim_find_target(&wanted.target, live->wish->engine, form->target, err)) ||
        !read_batch(&wanted.batch, form->batch, err) || !read_hours(&wanted_s, form->hours, err)) {
        return false;
    }
    pthread_mutex_lock(&live->lock);
    live->state.wanted_s = wanted_s;
    if (other) {
        live_state_want(&live->state, &wanted);
    }
    live_publish(live);
    pthread_mutex_unlock(&live->lock);
    return true;
}
