#include "cli/aim_series.h"

#include "base/json.h"
#include "cli/aim_report.h"

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
    const struct rig_settings *rig = &context->settings->hints.rig;
    struct aim_sight sight = {.wcs = solved->solution.wcs};
    occasion_find(&sight.occasion, &solved->frame.facts, context->solver.rig.rig.place,
                  rig->place != NULL, &context->settings->occasion);
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
static double believable_interval(double every_s, double exposure_s)
{
    const double longest_pause_s = 15;
    return every_s > exposure_s && every_s < 2 * exposure_s + longest_pause_s ? every_s : 0;
}

static void write_duration(char *out, size_t size, double span_s)
{
    if (span_s < 90) {
        snprintf(out, size, "%.0f s", span_s);
    } else {
        snprintf(out, size, "%.0f min %02.0f s", floor(span_s / 60), floor(fmod(span_s, 60)));
    }
}

static void write_series(FILE *out, const struct series *measured, const struct series_frame *frame,
                         bool believable)
{
    char span[40];
    write_duration(span, sizeof span, fabs(measured->span_s));
    fprintf(out, "%d frames in %s", measured->frames, span);
    if (believable) {
        fprintf(out, ", one every %.3g s", measured->every_s);
    }
    if (measured->still_from == 0) {
        fprintf(out, ": nobody touched the tripod (%.1f px)\n", measured->still_px);
    } else {
        fprintf(out, ": the tripod was touched before %s\n", frame[measured->still_from].name);
    }
    if (measured->clock_jump) {
        fprintf(out, "  clock    it jumped %s by %.0f s before %s, says the sky\n",
                measured->jump_s < 0 ? "back" : "ahead", fabs(measured->jump_s),
                frame[measured->clock_jump].name);
    }
}

static int write_json(FILE *out, const struct series *measured, const struct series_frame *frame,
                      const struct aim_answer *answer, const struct aim_target *target,
                      struct error *err)
{
    struct json json = {0};
    json_open(&json, NULL, '{');
    json_open(&json, "series", '{');
    json_integer(&json, "frames", measured->frames);
    json_number(&json, "span_s", measured->span_s, 2);
    json_number(&json, "gap_s", measured->every_s, 3);
    json_string(&json, "still_from", frame[measured->still_from].name);
    json_number(&json, "still_px", measured->still_px, 2);
    if (measured->clock_jump) {
        json_string(&json, "clock_jump_before", frame[measured->clock_jump].name);
        json_number(&json, "clock_jump_s", measured->jump_s, 1);
    }
    json_string(&json, "last", frame[measured->frames - 1].name);
    aim_report_add_ahead(&json, answer, target);
    json_close(&json, '}');
    return json_end_line(&json, out, err);
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

int aim_series_report(FILE *out, struct aim_series *series, char **name, int names,
                      const struct aim_context *context, struct error *err)
{
    struct series measured;
    if (series->count < 2) {
        return 0;
    }
    struct aim_answer *answer = calloc(1, sizeof *answer);
    if (!answer) {
        return error_memory(err);
    }
    order_by_name(series, name, names);
    series_measure(&measured, series->frame, series->count);
    if (!measured.clock_jump) {
        series_sort(series->frame, series->count);
        series_measure(&measured, series->frame, series->count);
    }
    const struct series_frame *last = &series->frame[series->count - 1];
    const struct aim_sight *sight = &series->sight[last->item];
    double every_s = believable_interval(measured.every_s, sight->occasion.exposure_s);
    aim_answer_from_sight(answer, sight, context, every_s);
    int code = 0;
    if (context->settings->json && !answer->sun_there) {
        code = write_json(out, &measured, series->frame, answer, &context->target, err);
    } else if (!answer->sun_there) { /* else each frame has said so */
        write_series(out, &measured, series->frame, every_s > 0);
        aim_report_next(out, answer);
        aim_report_counts(out, answer, context);
    }
    free(answer);
    return code;
}
