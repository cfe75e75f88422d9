#include "jobs/aim_series.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int aim_series_open(struct aim_series *series, int most, struct error *err)
{
    memset(series, 0, sizeof *series);
    series->frame = calloc((size_t)most, sizeof *series->frame);
    series->sight = calloc((size_t)most, sizeof *series->sight);
    if (!series->frame || !series->sight || pthread_mutex_init(&series->lock, NULL)) {
        free(series->frame);
        free(series->sight);
        memset(series, 0, sizeof *series);
        return error_memory(err);
    }
    return 0;
}

void aim_series_free(struct aim_series *series)
{
    if (series->frame) {
        pthread_mutex_destroy(&series->lock);
    }
    free(series->frame);
    free(series->sight);
    memset(series, 0, sizeof *series);
}

void aim_series_add(struct aim_series *series, const struct solved_frame *solved,
                    const struct aim_context *context)
{
    struct aim_sight sight;
    aim_sight_of(&sight, &solved->solution);
    occasion_find(&sight.occasion, &solved->frame.facts, &context->engine->rig.rig,
                  &context->wish->occasion);
    if (!sight.occasion.has_time) {
        return;
    }
    pthread_mutex_lock(&series->lock);
    int item = series->count++;
    series->sight[item] = sight;
    series->frame[item] = (struct series_frame){
        .name = solved->name, .wcs = sight.wcs, .mid = sight.occasion.mid, .item = item};
    pthread_mutex_unlock(&series->lock);
}

/* Frames that were picked from a night tell nothing of the pause between two. */
static double believable_cadence(double cadence_s, double exposure_s)
{
    const double longest_pause_s = 15;
    return cadence_s > exposure_s && cadence_s < 2 * exposure_s + longest_pause_s ? cadence_s : 0;
}

/* Puts the frames, which came as they were ready, into the order of the names. */
static void order_by_name(struct aim_series *series, char **name, int names)
{
    int placed = 0;
    for (int i = 0; i < names; i++) {
        for (int k = placed; k < series->count; k++) {
            if (series->frame[k].name == name[i]) {
                struct series_frame found = series->frame[k];
                series->frame[k] = series->frame[placed];
                series->frame[placed++] = found;
                break;
            }
        }
    }
}

int aim_series_find(struct aim_series_answer *found, struct aim_series *series, char **name,
                    int names, const struct aim_context *context, struct error *err)
{
    memset(found, 0, sizeof *found);
    if (series->count < 2) {
        return 0;
    }
    found->answer = calloc(1, sizeof *found->answer);
    if (!found->answer) {
        return error_memory(err);
    }
    order_by_name(series, name, names);
    series_measure(&found->measured, series->frame, series->count);
    if (!found->measured.clock_jump) {
        series_sort(series->frame, series->count);
        series_measure(&found->measured, series->frame, series->count);
    }
    const struct series_frame *last = &series->frame[series->count - 1];
    const struct aim_sight *sight = &series->sight[last->item];
    double cadence_s = believable_cadence(found->measured.cadence_s, sight->occasion.exposure_s);
    found->frame = series->frame;
    found->steady = cadence_s > 0;
    aim_answer_from_sight(found->answer, sight, context, cadence_s);
    return 0;
}

void aim_series_answer_free(struct aim_series_answer *found)
{
    free(found->answer);
    memset(found, 0, sizeof *found);
}
