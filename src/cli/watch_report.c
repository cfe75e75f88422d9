#include "cli/watch_report.h"

#include "base/options.h"
#include "base/path.h"
#include "base/utf8.h"
#include "cli/parts_schema.h"
#include "cli/watch_schema.h"

#include <math.h>
#include <string.h>

enum { NAME_COLUMNS = 22, RULE_COLUMNS = 78, TEXT_COLUMNS = 74 };

static const char red[] = "\033[31m", bold[] = "\033[1m", plain[] = "\033[0m";

void watch_write_clock(char *out, size_t size, const struct night_frame *frame)
{
    const char *start = frame->start_local[0] ? frame->start_local : frame->start_utc;
    const char *clock = strchr(start, 'T');
    snprintf(out, size, "%.8s", clock ? clock + 1 : "");
}

static int count_columns(const char *text)
{
    return (int)utf8_count(text, strlen(text));
}

void watch_write_name(char *out, size_t size, const char *name, int columns)
{
    char clean[600];
    utf8_shown(clean, sizeof clean, path_base(name));
    const char *from = clean;
    int excess = count_columns(clean) - columns;
    for (int cut = excess > 0 ? excess + 1 : 0; cut > 0; cut--) {
        from += utf8_length(from);
    }
    snprintf(out, size, "%s%s", from > clean ? "…" : "", from);
}

static void write_target(char *out, size_t size, const struct night_frame *frame,
                         const struct night_step *step)
{
    const struct drift *drift = &step->drift;
    double left = drift->changes && step->every_s > 0 ? floor(drift->change_s / step->every_s) : -1;
    out[0] = '\0';
    if (!frame->solved) {
        snprintf(out, size, "no solution");
    } else if (!step->on_target) {
        snprintf(out, size, "solved");
    } else if (!drift->inside) {
        snprintf(out, size,
                 frame->target.verdict == AIM_OUTSIDE  ? "TARGET OUT"
                 : frame->target.verdict == AIM_PARTLY ? "target partly out"
                                                       : "target at the edge");
    } else if (left >= 0) {
        snprintf(out, size, "target in, %.0f left", left);
    } else {
        snprintf(out, size, "target in");
    }
}

static const char *quality_word(const struct night_frame *frame, const char *lasting)
{
    if (!frame->read) {
        return "unread";
    }
    if (!frame->solved && frame->health.look.kind != KIND_LIGHT) {
        return frame_kind_key(frame->health.look.kind);
    }
    return lasting && !frame->health.faults ? lasting : health_verdict_key(&frame->health);
}

static void write_text(FILE *out, const struct night_frame *frame, const struct night_step *step,
                       const char *lasting)
{
    char clock[16], target[40], width[16] = "", name[120];
    watch_write_clock(clock, sizeof clock, frame);
    write_target(target, sizeof target, frame, step);
    watch_write_name(name, sizeof name, frame->name, NAME_COLUMNS);
    if (frame->health.fwhm_px > 0) {
        snprintf(width, sizeof width, "%.1f px", frame->health.fwhm_px);
    }
    fprintf(out, "%-8s  %-8s  %-20s %7s %5d stars  %s\n", clock, quality_word(frame, lasting),
            frame->read ? target : "", width, frame->detected, name);
}

void watch_report_frame(FILE *out, const struct watch_style *style, const struct night_frame *frame,
                        const struct night_step *step, const char *lasting)
{
    if (!style->json) {
        fputs(style->red ? red : "", out);
        write_text(out, frame, step, lasting);
        fputs(style->red ? plain : "", out);
        return;
    }
    struct json json = {0};
    if (!night_frame_write(&json, frame, NULL)) {
        fprintf(out, "%s\n", json.text);
    }
    json_free(&json);
}

static void write_json_alert(FILE *out, const struct alert *alert, const struct night_frame *frame,
                             const struct aim_answer *answer)
{
    struct json json = {0};
    schema_begin(&json, &alert_schema);
    schema_put_word(&json, "alert", (int)alert->kind);
    schema_put_format(&json);
    schema_put_bool(&json, "loud", alert_is_loud(alert->kind));
    schema_put_text(&json, "text", alert->text);
    if (frame) {
        schema_put_text(&json, "at", frame->name);
    }
    if (answer) {
        schema_open(&json, "move");
        parts_put_move(&json, advice_move(&answer->advice));
        schema_put_bool(&json, "horizon", answer->advice.has_horizon);
        schema_close(&json);
    }
    schema_end_line(&json, out, NULL); /* what memory is too short for is not told */
}

static void write_rule(FILE *out)
{
    for (int i = 0; i < RULE_COLUMNS; i++) {
        fputs("━", out);
    }
    fputc('\n', out);
}

static void write_move(FILE *out, const struct aim_answer *answer, int batch)
{
    const struct advice *advice = &answer->advice;
    char text[300];
    advice_write_move(text, sizeof text, advice, advice_move(advice));
    fprintf(out, "  %s", text);
    if (advice->has_lead) {
        fprintf(out, ", which centres %d frames", batch);
    }
    fputc('\n', out);
    if (answer->has_guide && !advice_is_still(advice, advice_move(advice))) {
        advice_write_guide(text, sizeof text, &answer->guide, &answer->stand.wcs);
        fputs("  ", out);
        options_write_wrapped(out, text, 2, 2, TEXT_COLUMNS);
    }
}

static int batch_of(const struct aim_answer *answer)
{
    double length = answer->advice.batch.last_s - answer->advice.batch.first_s;
    return answer->every_s > 0 ? (int)lround(length / answer->every_s) + 1 : 0;
}

void watch_report_alert(FILE *out, const struct watch_style *style, const struct alert *alert,
                        const struct night_frame *frame, const struct aim_answer *answer)
{
    bool loud = alert_is_loud(alert->kind);
    if (style->json) {
        write_json_alert(out, alert, frame, answer);
        return;
    }
    fputs(style->red ? red : "", out);
    if (!loud) {
        fprintf(out, "          %s: %s\n", alert_title(alert->kind), alert->text);
    } else {
        write_rule(out);
        fprintf(out, "  %s%s%s%s\n  ", style->terminal ? bold : "", alert_title(alert->kind),
                style->terminal ? plain : "", style->terminal && style->red ? red : "");
        options_write_wrapped(out, alert->text, 2, 2, TEXT_COLUMNS);
        if (answer) {
            write_move(out, answer, batch_of(answer));
        }
        write_rule(out);
        fputs(style->terminal ? "\a" : "", out);
    }
    fputs(style->red ? plain : "", out);
}
