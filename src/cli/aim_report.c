#include "cli/aim_report.h"

#include "cli/aim_depth_report.h"

#include "base/text.h"
#include "base/units.h"
#include "base/utf8.h"

#include <math.h>

/* A leaning picture is worth a word from here on, and a clock whose minute costs this part of the
 * picture's width. */
static const double least_roll_deg = 0.3, least_minute_part = 0.002;

static void write_labelled(FILE *out, const char *label, const char *text)
{
    fprintf(out, "  %-8s %s\n", label, text);
}

static void write_picture(FILE *out, const struct aim_answer *answer)
{
    const struct advice *advice = &answer->advice;
    const struct head_move *move = advice_move(advice);
    char text[320];
    if (answer->has_cue && !advice_is_still(advice, move)) {
        advice_write_cue(text, sizeof text, &answer->cue, &answer->stand.wcs);
        write_labelled(out, "screen", text);
    } else if (!answer->has_cue) {
        write_labelled(out, "screen", "no star stays in the picture: take a frame after the move");
    }
    if (!advice->has_lead) {
        aim_write_move(text, sizeof text, &advice->aim);
        write_labelled(out, "picture", text);
    }
}

static bool is_set(const struct aim_answer *answer)
{
    return answer->advice.has_horizon && answer->advice.target_altitude_deg < 0;
}

static void write_camera(FILE *out, const struct aim_answer *answer)
{
    const struct advice *advice = &answer->advice;
    if (!advice->has_horizon) {
        return;
    }
    fprintf(out, "  camera   looks %s (azimuth %.1f°), %.1f° high",
            advice_direction_word(advice->azimuth_deg), advice->azimuth_deg, advice->altitude_deg);
    if (fabs(advice->roll_deg) >= least_roll_deg) {
        fprintf(out, ", leans %.1f° %s", fabs(advice->roll_deg),
                advice->roll_deg > 0 ? "to the right" : "to the left");
    }
    if (!is_set(answer)) {
        fprintf(out, "; the target is %.1f° high", advice->target_altitude_deg);
    }
    fprintf(out, "\n");
}

/* Near the zenith a pan hardly moves the picture. */
static void write_zenith(FILE *out, double altitude_deg)
{
    if (altitude_deg > ADVICE_HIGH_DEG) {
        fprintf(out,
                "  zenith   so high up 1° across the picture takes %.0f° of pan; a ball head is "
                "easier\n",
                advice_pan_growth(altitude_deg));
    }
}

static void write_head(FILE *out, const struct aim_answer *answer)
{
    const struct aim_head *head = &answer->head;
    if (!answer->advice.has_horizon) {
        return;
    }
    write_zenith(out, answer->advice.target_altitude_deg);
    if (answer->advice.move.short_deg > 0) {
        fprintf(out,
                "  head     it cannot point there: it ends %.1f° off; turn the tripod's legs\n",
                answer->advice.move.short_deg);
    }
    if (!head->name) {
        fprintf(
            out,
            "  head     assuming a level pan axis; with a ball head follow the \"picture\" line\n");
        return;
    }
    fprintf(out, "  head     with the axes of %s", head->name);
    if (head->tilt_assumed) {
        fprintf(out, ", whose tilt axis is assumed square: learn it too");
    } else if (isfinite(head->error_deg)) {
        double move = hypot(answer->advice.move.pan_deg, answer->advice.move.tilt_deg);
        fprintf(out, ", known to %.2g°: %.2g° on this move", head->error_deg,
                head->error_deg * fmin(move, 60) * RAD_PER_DEG);
    }
    fprintf(out, "\n");
    if (head->lean_stale) {
        fprintf(out, "  head     its lean is of another night and not used: learn it again\n");
    }
}

/* Why there is no pan and tilt, and what would help. */
static void write_missing(FILE *out, const struct aim_answer *answer)
{
    const struct occasion *occasion = &answer->occasion;
    if (answer->advice.has_horizon) {
        return;
    }
    if (answer->daylight) {
        fputs("  axes     right and up are the picture's: by that clock there is no telling pan\n",
              out);
        return;
    }
    fprintf(out,
            "  axes     right and up are the %s, as if the camera were level; for pan and tilt "
            "give %s%s%s\n",
            answer->advice.aim.mirrored ? "camera's" : "picture's",
            occasion->has_place ? "" : "--place",
            occasion->has_place || occasion->has_utc ? "" : " and ",
            occasion->has_utc    ? ""
            : occasion->has_time ? "the clock's --zone"
                                 : "--time");
}

static void write_clock_fault(FILE *out, const struct clock_fault *fault)
{
    if (fabs(fault->fast_s) < 2 * fault->error_s) {
        fprintf(out, "  clock    right to about %.0f s, if the camera was level\n", fault->error_s);
    } else {
        fprintf(out,
                "  clock    %s by %.0f s, give or take %.0f s, if the camera was level: set "
                "--clock-error %.0f\n",
                fault->fast_s < 0 ? "slow" : "fast", fabs(fault->fast_s), fault->error_s,
                fault->fast_s);
    }
}

static void write_clock_doubt(FILE *out, const struct aim_answer *answer)
{
    char text[300];
    clock_doubt_write(text, sizeof text, &answer->clock_doubt);
    if (text[0] && isfinite(answer->clock_doubt.fast_s) &&
        answer->clock_doubt.by != CLOCK_DOUBT_FUTURE) {
        text_append(text, sizeof text, "; if so, give --clock-error %.0f",
                    answer->clock_doubt.fast_s);
    }
    if (text[0]) {
        write_labelled(out, "clock", text);
    }
}

/* Which clock all times are of. */
static void write_zone(FILE *out, const struct occasion *occasion)
{
    char zone[40], change[120];
    occasion_write_zone(zone, sizeof zone, occasion);
    occasion_write_change(change, sizeof change, occasion);
    if (zone[0] && occasion->has_clock) {
        fprintf(out, "  clock    the camera's: %s%s%s\n", zone, change[0] ? "; " : "", change);
    }
}

static void write_clock(FILE *out, const struct aim_answer *answer)
{
    const struct advice *advice = &answer->advice;
    if (answer->has_clock_fault) {
        write_clock_fault(out, &answer->clock_fault);
    }
    if (advice->has_horizon &&
        advice->minute_deg > least_minute_part * advice->aim.field_width_deg) {
        fprintf(out,
                "  clock    one minute of clock error would shift this move by %.2f° (%.1f %% of "
                "the width)\n",
                advice->minute_deg, 100 * advice->minute_deg / advice->aim.field_width_deg);
    }
}

static void write_set(FILE *out, const struct aim_answer *answer, const struct aim_target *target)
{
    double highest = 90 - fabs(answer->occasion.place.latitude_deg - target->shape.dec_deg);
    fprintf(out, "%s is %.0f° below the horizon%s\n", target->name,
            -answer->advice.target_altitude_deg,
            highest < 0 ? ", and never rises at this place" : "");
}

static void write_sun(FILE *out, const struct aim_answer *answer)
{
    const struct sun_guard *sun = &answer->advice.sun;
    if (answer->advice.has_sun && sun_guard_warns(sun)) {
        fprintf(
            out,
            "  caution  the Sun is %.0f° below the horizon and %.0f° from the lens's way: never "
            "let it into the picture\n",
            -sun->altitude_deg, sun->way_deg);
    }
}

/* "152 frames, until 20:38:02", "7 min 36 s" */
static void write_span(char *out, size_t size, const struct aim_answer *answer, double span_s,
                       const char *word)
{
    char clock[24], span[40] = "";
    occasion_write_clock(clock, sizeof clock, &answer->occasion, span_s);
    if (answer->cadence_s > 0) {
        snprintf(span, sizeof span, "%.0f frames", floor(span_s / answer->cadence_s));
    } else {
        snprintf(span, sizeof span, "%.0f min %02.0f s", floor(span_s / 60), fmod(span_s, 60));
    }
    snprintf(out, size, "%s%s%s%s", span, clock[0] ? ", " : "", clock[0] ? word : "", clock);
}

static void write_now(FILE *out, const struct aim_answer *answer)
{
    const struct drift *now = &answer->advice.now;
    char span[80];
    write_span(span, sizeof span, answer, now->change_s, "at ");
    if (now->inside && now->changes && answer->advice.has_lead) {
        fprintf(out, "  untouched, it would reach the %s edge in %s\n", frame_edge_word(now->edge),
                span);
    } else if (now->inside && now->changes) {
        fprintf(out, "  re-centre in %s, before it reaches the %s edge\n", span,
                frame_edge_word(now->edge));
    } else if (now->inside) {
        fprintf(out, "  it stays in the frame for hours\n");
    } else if (now->changes) {
        fprintf(out, "  untouched, it would be wholly in the frame in %s\n", span);
    }
}

static void write_batch(FILE *out, const struct aim_answer *answer)
{
    const struct batch *batch = &answer->advice.batch;
    char from[24], until[24];
    occasion_write_clock(from, sizeof from, &answer->occasion, batch->first_s);
    occasion_write_clock(until, sizeof until, &answer->occasion, batch->last_s);
    fprintf(out, "  so it is centred on average over %.0f frames",
            (batch->last_s - batch->first_s) / answer->cadence_s + 1);
    if (from[0]) {
        fprintf(out, " from %s to %s; then re-centre", from, until);
    }
    fprintf(out, "\n");
}

static void write_after(FILE *out, const struct aim_answer *answer)
{
    const struct advice *advice = &answer->advice;
    char span[80];
    if (!advice->now.inside && advice->has_drift && advice->after.inside && advice->after.changes) {
        write_span(span, sizeof span, answer, advice->after.change_s, "until ");
        fprintf(out, "  after that it stays in for %s\n", span);
    }
}

/* Why that is not what the plan says: it is decided by the lens that the frame shows. */
static void write_planned(FILE *out, const struct batch_length *length,
                          const struct night_plan *plan)
{
    const double same = 0.01;
    if (plan && plan->widening == 0) {
        fprintf(out, ", which the plan could not know");
    } else if (plan && fabs(length->widening - plan->widening) > same) {
        fprintf(out, "; %.0f %% were planned for the lens as it was known", 100 * plan->widening);
    }
}

/* What becomes of stars at the edge in such a batch. */
static void write_smear(FILE *out, const struct aim_answer *answer,
                        const struct aim_context *context)
{
    const struct batch_length *length = &answer->length;
    enum smear_fit align =
        context->plan ? context->plan->accept.align : context->wish->accept.align;
    char why[300];
    if (!answer->has_length) {
        return;
    }
    batch_write_reason(why, sizeof why, length);
    fprintf(out, "  batch    %ld frames%s%s\n", length->frames,
            context->wish->batch ? ""
            : context->plan      ? ", as planned"
                                 : "",
            context->wish->batch ? "" : why);
    if (length->has_smear) {
        fprintf(out, "  stars    at the edge of its stack widen by %.0f %% (%.1f px, %s)",
                100 * length->widening, length->smear_px[align], smear_fit_word(align));
        write_planned(out, length, context->plan);
        fprintf(out, "\n");
    }
}

void aim_report_next(FILE *out, const struct aim_answer *answer)
{
    if (answer->advice.has_lead) {
        write_batch(out, answer);
        write_now(out, answer);
    } else {
        write_now(out, answer);
        write_after(out, answer);
    }
}

void aim_report_counts(FILE *out, const struct aim_answer *answer,
                       const struct aim_context *context)
{
    const struct night_plan *plan = context->plan;
    if (plan && plan->hours[0]) {
        const char *when =
            answer->occasion.has_utc ? night_plan_place_in_hours(plan, answer->occasion.mid) : "";
        fprintf(out, "  hours    %s, as planned%s%s\n", plan->hours, when[0] ? "; " : "", when);
    }
    write_smear(out, answer, context);
    if (answer->every_guessed) {
        fprintf(out,
                "  frames   assuming one every %.3g s (exposure + 1 s); set it with --cadence\n",
                answer->cadence_s);
    } else if (answer->every_planned) {
        fprintf(out, "  frames   one every %.3g s, as planned\n", answer->cadence_s);
    }
}

static void write_details(FILE *out, const struct aim_answer *answer)
{
    const struct aim *aim = &answer->advice.aim;
    fprintf(out, "  target   ");
    if (aim->has_pixel) {
        fprintf(out, "at pixel (%.0f, %.0f), ", aim->x, aim->y);
    }
    fprintf(out, "%.3f° from the middle at position angle %.1f°\n", aim->separation_deg,
            aim->position_angle_deg);
    if (answer->occasion.has_place) {
        const struct place *place = &answer->occasion.place;
        fprintf(out, "  place    %.4f, %.4f, %.0f m, %s; air of %.0f hPa, %.0f °C\n",
                place->latitude_deg, place->longitude_deg, place->height_m,
                answer->occasion.place_source, place->pressure_hpa, place->temperature_c);
    }
    if (answer->occasion.has_utc) {
        char when[40];
        time_write(when, sizeof when, answer->occasion.mid, 1);
        fprintf(out, "  time     middle of the exposure %s\n", when);
    }
}

/* What moves is only found with a time in UTC. */
static void write_no_when(FILE *out, const struct aim_answer *answer)
{
    fprintf(out, "no advice: %s moves among the stars, and %s\n", answer->target.name,
            answer->occasion.has_time
                ? "it is not known which zone the camera's clock is set to; give it with --zone"
                : "the file does not say when it was taken; give that with --time");
}

/* When a roof or a tree comes between. */
static void write_skyline(FILE *out, const struct aim_answer *answer)
{
    char text[120], span[80] = "";
    hiding_write(text, sizeof text, &answer->hiding);
    if (answer->hiding.changes) {
        write_span(span, sizeof span, answer, answer->hiding.change_s, "at ");
    }
    if (text[0]) {
        fprintf(out, "  skyline  %s%s%s\n", text, span[0] ? " in " : "", span);
    }
}

void aim_report_text(FILE *out, const struct solved_frame *solved, const struct aim_answer *answer,
                     const struct aim_context *context, bool brief, bool verbose)
{
    char text[300], note[AIM_MOST_NOTES][AIM_NOTE_SIZE];
    if (answer->sun_there) {
        utf8_write_shown(out, solved->name);
        fprintf(out, ": no advice: the Sun is there, and a lens must never be pointed at it\n");
        return;
    }
    utf8_write_shown(out, solved->name);
    fputs(": ", out);
    if (answer->no_when) {
        write_no_when(out, answer);
        return;
    }
    if (is_set(answer)) {
        write_set(out, answer, &answer->target);
    } else {
        advice_write_move(text, sizeof text, &answer->advice, advice_move(&answer->advice));
        fprintf(out, "%s\n", text);
    }
    write_clock_doubt(out, answer);
    aim_write_verdict(text, sizeof text, &answer->advice.aim, &answer->target);
    fprintf(out, "  %s\n", text);
    if (!is_set(answer)) {
        write_skyline(out, answer);
    }
    int notes = aim_write_notes(note, &answer->advice.aim, &answer->target);
    for (int i = 0; i < notes; i++) {
        fprintf(out, "  %s\n", note[i]);
    }
    write_sun(out, answer);
    if (!brief && is_set(answer)) {
        write_camera(out, answer);
    } else if (!brief) {
        aim_report_next(out, answer);
        write_picture(out, answer);
        write_missing(out, answer);
        write_camera(out, answer);
        write_head(out, answer);
        write_zone(out, &answer->occasion);
        write_clock(out, answer);
        aim_report_counts(out, answer, context);
    }
    if (aim_depth_wanted(context->wish)) {
        aim_depth_report(out, answer, context->wish, brief);
    }
    if (verbose) {
        write_details(out, answer);
        solve_report_details(out, solved);
    }
}
