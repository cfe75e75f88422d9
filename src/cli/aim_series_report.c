#include "cli/aim_series_report.h"

#include "base/utf8.h"
#include "cli/aim_report.h"
#include "cli/aim_schema.h"

#include <math.h>

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
        fprintf(out, ", one every %.3g s", measured->cadence_s);
    }
    if (measured->still_from == 0) {
        fprintf(out, ": the tripod was not disturbed (%.1f px)\n", measured->still_px);
    } else {
        fprintf(out, ": the tripod was disturbed before %s\n", frame[measured->still_from].name);
    }
    if (measured->clock_jump) {
        char whole[32];
        clock_doubt_write_whole(whole, sizeof whole, measured->jump_s);
        fprintf(out, "  clock    it jumped %s by %.0f s%s before %s, going by the sky\n",
                measured->jump_s < 0 ? "back" : "ahead", fabs(measured->jump_s), whole,
                frame[measured->clock_jump].name);
    }
}

static int write_json(FILE *out, const struct series *measured, const struct series_frame *frame,
                      const struct aim_answer *answer, const struct aim_target *target,
                      struct error *err)
{
    struct json json = {0};
    struct advice_error advice_error;
    aim_answer_error(&advice_error, answer);
    schema_begin(&json, &aim_series_schema);
    schema_put_format(&json);
    schema_open(&json, "series");
    schema_put_integer(&json, "frames", measured->frames);
    schema_put_number(&json, "span_s", measured->span_s);
    schema_put_number(&json, "measured_cadence_s", measured->cadence_s);
    schema_put_text(&json, "still_from", frame[measured->still_from].name);
    schema_put_number(&json, "still_px", measured->still_px);
    if (measured->clock_jump) {
        schema_put_text(&json, "clock_jump_before", frame[measured->clock_jump].name);
        schema_put_number(&json, "clock_jump_s", measured->jump_s);
    }
    schema_put_text(&json, "last", frame[measured->frames - 1].name);
    aim_report_add_ahead(&json, answer, &advice_error, target);
    schema_close(&json);
    return schema_end_line(&json, out, err);
}

int aim_series_report(FILE *out, const struct aim_series_answer *found,
                      const struct aim_context *context, bool as_json, struct error *err)
{
    if (!found->answer || aim_answer_is_refused(found->answer)) {
        return 0; /* each frame has said so */
    }
    if (as_json) {
        return write_json(out, &found->measured, found->frame, found->answer,
                          &found->answer->target, err);
    }
    write_series(out, &found->measured, found->frame, found->steady);
    aim_report_next(out, found->answer);
    aim_report_counts(out, found->answer, context);
    return 0;
}
