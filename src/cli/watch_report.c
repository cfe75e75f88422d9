#include "cli/watch_report.h"

#include "base/options.h"
#include "base/path.h"
#include "base/text.h"
#include "base/utf8.h"
#include "cli/parts_schema.h"
#include "cli/stack_options.h"
#include "cli/watch_schema.h"

#include <math.h>
#include <string.h>

enum { NAME_COLUMNS = 22, LINE_COLUMNS = 78 };

static const char red[] = "\033[31m", bold[] = "\033[1m", plain[] = "\033[0m";

void watch_write_clock(char *out, size_t size, const struct night_frame *frame)
{
    char start[40];
    time_stamp_write(start, sizeof start,
                     frame->start_local.known ? &frame->start_local : &frame->start_utc);
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

/* Cuts a text to so many columns. */
static void cut_columns(char *text, int columns)
{
    char *at = text;
    for (int i = 0; *at && i < columns; i++) {
        at += utf8_length(at);
    }
    *at = '\0';
}

static void write_target(char *out, size_t size, const struct night_frame *frame,
                         const struct night_step *step)
{
    const struct drift *drift = &step->drift;
    double left = isfinite(step->left) ? fmax(0, floor(step->left + 1e-6)) : -1;
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

/* For narrow terminals: without stars and name. */
static void write_short(FILE *out, const struct night_frame *frame, const struct night_step *step,
                        const char *lasting, int columns)
{
    char clock[16], target[40], line[120];
    watch_write_clock(clock, sizeof clock, frame);
    write_target(target, sizeof target, frame, step);
    snprintf(line, sizeof line, "%-8s %-6s %s", clock, quality_word(frame, lasting),
             frame->read ? target : "");
    cut_columns(line, columns);
    fprintf(out, "%s\n", line);
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
        if (style->columns < LINE_COLUMNS) {
            write_short(out, frame, step, lasting, style->columns - 1);
        } else {
            write_text(out, frame, step, lasting);
        }
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
    if (alert->again) {
        schema_put_integer(&json, "again", alert->again);
    }
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

void watch_report_stack(FILE *out, const struct watch_style *style,
                        const struct emergence *emergence, struct watch_told_stack *told)
{
    const double growth = 1.25;
    struct emergence_outlook outlook;
    emergence_foresee(&outlook, emergence);
    bool news = emergence->frames >= growth * told->frames || outlook.visible != told->visible;
    if (style->json) {
        struct json json = {0};
        schema_begin(&json, &emergence_line_schema);
        emergence_put(&json, "stack", emergence, false);
        schema_put_format(&json);
        schema_end_line(&json, out, NULL); /* what memory is too short for is not told */
    } else if (news) {
        *told = (struct watch_told_stack){emergence->frames, outlook.visible};
        fputs(style->red ? red : "", out);
        stack_report_text(out, emergence,
                          style->columns < LINE_COLUMNS ? style->columns - 1 : LINE_COLUMNS);
        fputs(style->red ? plain : "", out);
    }
}

static void write_rule(FILE *out, int columns)
{
    for (int i = 0; i < columns; i++) {
        fputs("━", out);
    }
    fputc('\n', out);
}

static void write_move(FILE *out, const struct aim_answer *answer, int batch, int columns)
{
    const struct advice *advice = &answer->advice;
    char text[300];
    advice_write_move(text, sizeof text, advice, advice_move(advice));
    if (advice->has_lead) {
        text_append(text, sizeof text, ", which centres %d frames", batch);
    }
    fputs("  ", out);
    options_write_wrapped(out, text, 2, 2, columns);
    if (answer->has_cue && !advice_is_still(advice, advice_move(advice))) {
        advice_write_cue(text, sizeof text, &answer->cue, &answer->stand.wcs);
        fputs("  ", out);
        options_write_wrapped(out, text, 2, 2, columns);
    }
}

static int batch_of(const struct aim_answer *answer)
{
    double length = answer->advice.batch.last_s - answer->advice.batch.first_s;
    return answer->cadence_s > 0 ? (int)lround(length / answer->cadence_s) + 1 : 0;
}

void watch_report_alert(FILE *out, const struct watch_style *style, const struct alert *alert,
                        const struct night_frame *frame, const struct aim_answer *answer)
{
    bool loud = alert_is_loud(alert->kind);
    int columns = style->columns < LINE_COLUMNS ? style->columns - 1 : LINE_COLUMNS;
    if (style->json) {
        write_json_alert(out, alert, frame, answer);
        return;
    }
    fputs(style->red ? red : "", out);
    if (!loud) {
        char line[ALERT_TEXT_SIZE + 40];
        snprintf(line, sizeof line, "%s: %s", alert_title(alert->kind), alert->text);
        fputs("  ", out);
        options_write_wrapped(out, line, 2, 2, columns);
    } else {
        write_rule(out, columns);
        fprintf(out, "  %s%s%s%s\n  ", style->terminal ? bold : "", alert_title(alert->kind),
                style->terminal ? plain : "", style->terminal && style->red ? red : "");
        options_write_wrapped(out, alert->text, 2, 2, columns);
        if (alert->kind == ALERT_CLOCK) {
            fputs("  ", out);
            options_write_wrapped(out, "Or start again with --clock-error.", 2, 2, columns);
        }
        if (answer) {
            write_move(out, answer, batch_of(answer), columns);
        }
        write_rule(out, columns);
        fputs(style->terminal ? "\a" : "", out);
    }
    fputs(style->red ? plain : "", out);
}

void watch_write_message(char *out, size_t size, const struct alert *alert,
                         const struct aim_answer *answer)
{
    char text[300];
    snprintf(out, size, "%s", alert->text);
    if (!answer) {
        return;
    }
    const struct head_move *move = advice_move(&answer->advice);
    advice_write_move(text, sizeof text, &answer->advice, move);
    text_append(out, size, "; %s", text);
    if (answer->has_cue && !advice_is_still(&answer->advice, move)) {
        advice_write_cue(text, sizeof text, &answer->cue, &answer->stand.wcs);
        text_append(out, size, "; %s", text);
    }
}

/* "re-centre in 88", "RE-CENTRE NOW"; brief: "in 88", "NOW". */
static void write_act(char *out, size_t size, const struct watch_standing *standing, bool brief)
{
    double left = floor(standing->left + 1e-6);
    if (!standing->on_target) {
        snprintf(out, size, "%s", standing->frame->solved ? "no target" : "no solution");
    } else if (standing->visible < 1) {
        snprintf(out, size, "%s", brief ? "HIDDEN" : "BEHIND THE SKYLINE");
    } else if (standing->visible <= standing->left) {
        snprintf(out, size, "%s %.0f", brief ? "hidden in" : "behind the skyline in",
                 floor(standing->visible));
    } else if (standing->overdue || left < 1) {
        snprintf(out, size, "%sNOW", brief ? "" : "RE-CENTRE ");
    } else if (isfinite(left)) {
        snprintf(out, size, "%sin %.0f", brief ? "" : "re-centre ", left);
    } else {
        snprintf(out, size, "nothing to do for hours");
    }
}

/* "pan 2.4° left, tilt 0.9° up", or "2.4° left, 0.9° up" where there is little room. */
static void write_next_move(char *out, size_t size, const struct aim_answer *answer, bool tight)
{
    char text[160];
    const char *from = text;
    out[0] = '\0';
    advice_write_move(text, sizeof text, &answer->advice, advice_move(&answer->advice));
    if (!tight || advice_is_still(&answer->advice, advice_move(&answer->advice))) {
        snprintf(out, size, "%s", text);
        return;
    }
    while (*from) { /* without its verbs */
        static const char *const verbs[] = {"pan ", "tilt ", "turn ", "then "};
        for (size_t i = 0; i < sizeof verbs / sizeof *verbs; i++) {
            from += strncmp(from, verbs[i], strlen(verbs[i])) == 0 ? strlen(verbs[i]) : 0;
        }
        size_t length = strcspn(from, " ");
        length += from[length] == ' ';
        text_append(out, size, "%.*s", (int)length, from);
        from += length;
    }
}

void watch_write_standing(char *out, size_t size, const struct watch_standing *standing,
                          int columns)
{
    char act[40], move[160];
    const char *quality = quality_word(standing->frame, standing->lasting);
    bool led = standing->answer && isfinite(standing->left) && standing->left < standing->visible;
    for (int tight = 0; tight < 3; tight++) {
        move[0] = '\0';
        if (led) {
            write_next_move(move, sizeof move, standing->answer, tight > 0);
        }
        write_act(act, sizeof act, standing, tight > 1);
        snprintf(out, size, "%s%s%s%s%s", act, move[0] ? ": " : "", move,
                 tight ? " | " : " | last ", quality);
        if (count_columns(out) <= columns) {
            return;
        }
    }
    cut_columns(out, columns);
}

void watch_report_standing(FILE *out, const struct watch_style *style,
                           const struct watch_standing *standing)
{
    char text[300];
    if (style->terminal && !style->json) {
        watch_write_standing(text, sizeof text, standing, style->columns - 1);
        fprintf(out, "%s%s%s%s", style->red ? red : "", standing->overdue ? bold : "", text, plain);
    }
}

void watch_report_clear(FILE *out, const struct watch_style *style)
{
    if (style->terminal && !style->json) {
        fputs("\r\033[K", out);
    }
}
