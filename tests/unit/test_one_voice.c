/* One evening after the other, with rigs, places, targets and dates at random: what the plan says,
 * the card, aim, the watcher and the review say too, to a frame, in words, in JSON and on pages. */
#include "base/utf8.h"
#include "cli/aim_report.h"
#include "cli/plan_report.h"
#include "cli/review_json.h"
#include "cli/review_report.h"
#include "cli/watch_report.h"
#include "draw/card.h"
#include "draw/night_page.h"
#include "evening_fixture.h"
#include "jobs/batch_advice.h"
#include "jobs/watch_advice.h"
#include "near.h"
#include "night_fixture.h"
#include "objects_fixture.h"
#include "plan/plan_words.h"
#include "sample.h"
#include "scratch.h"
#include "voices_fixture.h"

#include <string.h>

Suite *one_voice_suite(void);

/* By how much plan and aim may differ in where they lead, as the sky drifts from frame to frame. */
#define LEAD_FRAMES 1.0

/* Keeps the plan in a file, and reads it as the others do. */
static void carry_plan(struct evening *e)
{
    const char *name = scratch_path("night-plan.json");
    struct night_plan made;
    struct error err = {0};
    const struct plan_sheet sheet = {.settings = &e->settings,
                                     .night = &e->night,
                                     .item = &e->item,
                                     .utc_offset_min = 60,
                                     .camera = "a camera"};
    const struct dark_span *up = &e->item.window.span;
    char hours[24];
    night_plan_make(&made, &sheet);
    night_plan_note_hours(&made, &sheet);
    ck_assert_msg(night_plan_write(name, &made, &err) == 0, "%s", err.text);
    ck_assert_msg(night_plan_read(&e->plan, name, &err) == 0, "%s", err.text);
    ck_assert_str_eq(e->plan.target, e->item.member[0].object->id);
    assert_near(e->plan.exposure_s, e->item.shots.exposure_s, 1e-5, "s");
    ck_assert_int_eq(e->plan.batch_frames, (int)e->item.shots.batch.frames);
    ck_assert_int_eq(e->plan.frames, (int)e->item.shots.frames);
    assert_near(e->plan.lead_right, made.lead_right, 1e-5, "widths");
    assert_near(e->plan.middle.ra_deg, e->item.fit.ra_deg, 2e-3, "deg");
    ck_assert_str_eq(e->plan.rule, made.rule);
    /* The hours are those of the plan's own words, and own hours are kept. */
    plan_write_span(hours, sizeof hours, up, 60);
    ck_assert_msg(strncmp(e->plan.hours, hours, strlen(hours)) == 0, "%s, %s", e->plan.hours,
                  hours);
    assert_near(time_between(e->plan.from.utc, up->start), 0, 0.51, "s");
    assert_near(time_between(e->plan.until.utc, up->end), 0, 0.51, "s");
    ck_assert(!e->night.own.any || (time_between(e->night.own.start, up->start) >= -0.01 &&
                                    time_between(up->end, e->night.own.end) >= -0.01));
    assert_near(e->plan.focal_mm, e->item.camera.focal_mm, 0.005, "mm");
    assert_near(e->plan.f_number, e->item.camera.f_number, 0.005, "");
}

static double drift_px(const struct evening *e)
{
    return 15.041 * cos(e->plan.middle.dec_deg * RAD_PER_DEG) / e->plan.scale_arcsec *
           night_plan_every_s(&e->plan);
}

/* "pan 1.9° left": to half of the last digit that is shown. */
static void check_move(const char *text, const struct head_move *move)
{
    voice_may_say(text, "pan ", fabs(move->pan_deg), fabs(move->pan_deg) < 0.995 ? 0.0051 : 0.051);
    voice_may_say(text, "tilt ", fabs(move->tilt_deg),
                  fabs(move->tilt_deg) < 0.995 ? 0.0051 : 0.051);
}

static void check_aim_words(const struct evening *e)
{
    struct voice voice;
    voice_begin(&voice);
    aim_report_text(voice.stream, &e->solved, &e->answer, &e->context, false, false);
    char *text = voice_end(&voice);
    voice_says(text, "centred on average over ", e->plan.batch_frames, 0);
    voice_says(text, "batch ", e->plan.batch_frames, 0);
    voice_may_say(text, "re-centre in ", e->plan.batch_frames, 0);
    check_move(text, &e->answer.advice.lead.move);
    if (e->answer.length.has_smear) {
        voice_says(text, "edge of its stack widen by ", 100 * e->answer.length.widening, 0.51);
    }
    free(text);
}

static void check_aim_json(const struct evening *e, double frame_px)
{
    struct voice voice;
    struct error err = {0};
    voice_begin(&voice);
    ck_assert_int_eq(aim_report_json(voice.stream, &e->solved, &e->answer, &e->context, &err), 0);
    struct json_object *json = voice_end_json(&voice);
    assert_near(voice_number(json, "lead.frames"), e->plan.batch_frames, 0, "frames");
    assert_near(voice_number(json, "lead.pan_right_deg"), e->answer.advice.lead.move.pan_deg, 1e-5,
                "deg");
    double right = voice_number(json, "lead.target_at_start.right_widths") - e->plan.lead_right,
           up = voice_number(json, "lead.target_at_start.up_heights") - e->plan.lead_up;
    double off_px = hypot(right * e->tripod.lens.width, up * e->tripod.lens.height);
    ck_assert_msg(off_px < LEAD_FRAMES * frame_px,
                  "%s: %.1f px beside where the plan leads it, %.1f px a frame", e->plan.target,
                  off_px, frame_px);
    ck_assert(voice_word(json, "clock_doubt.by")[0] == '\0');
    voice_free_json(json);
}

static void check_aim(struct evening *e)
{
    const struct advice *advice = &e->answer.advice;
    double cadence_s = night_plan_every_s(&e->plan), frame_px = drift_px(e);
    evening_ask_aim(e);
    ck_assert(e->answer.has_length && advice->has_horizon);
    ck_assert_msg(advice->has_lead, "%s at %.1f deg, %d frames every %.2f s, %g mm", e->plan.target,
                  e->item.window.best_altitude_deg, e->plan.batch_frames, cadence_s,
                  e->plan.focal_mm);
    ck_assert_int_eq((int)e->answer.length.frames, e->plan.batch_frames);
    assert_near((advice->batch.last_s - advice->batch.first_s) / cadence_s,
                e->plan.batch_frames - 1, 1e-6, "frames");
    ck_assert(advice->lead.mean_px < frame_px);
    double planned =
        hypot(e->plan.lead_right * e->tripod.lens.width, e->plan.lead_up * e->tripod.lens.height);
    double led = hypot(advice->lead.right_part * e->tripod.lens.width,
                       advice->lead.up_part * e->tripod.lens.height);
    assert_near(led / frame_px, planned / frame_px, 1, "frames of lead");
    check_aim_words(e);
    check_aim_json(e, frame_px);
}

static void check_frame_line(const struct night_frame *frame, const struct night_step *step)
{
    const struct watch_style style = {.columns = 80};
    struct voice voice;
    voice_begin(&voice);
    watch_report_frame(voice.stream, &style, frame, step, NULL);
    char *text = voice_end(&voice);
    voice_says(text, "target in, ", floor(step->left + 1e-6), 0);
    free(text);
}

/* The line that stands at the bottom. */
static void check_standing_line(const struct night_frame *frame, double left, bool overdue,
                                const struct aim_answer *answer)
{
    const struct watch_standing standing = {.frame = frame,
                                            .on_target = true,
                                            .overdue = overdue,
                                            .left = left,
                                            .visible = (double)INFINITY,
                                            .answer = answer};
    for (int columns = 40; columns <= 80; columns += 40) {
        char line[200];
        watch_write_standing(line, sizeof line, &standing, columns);
        ck_assert_uint_le(utf8_count(line, strlen(line)), (size_t)columns);
        voice_may_say(line, "in ", floor(left + 1e-6), 0);
        ck_assert_msg(strstr(line, overdue ? "NOW" : "in ") != NULL, "%s", line);
        check_move(line, advice_move(&answer->advice));
    }
}

/* What is said when a batch ends: on the terminal, to programs, to a telephone. */
static void check_alert(const struct evening *e, const struct alert *alert,
                        const struct night_frame *frame, double left)
{
    struct watch_style style = {.columns = 80};
    struct solved_frame solved = e->solved;
    struct aim_answer answer;
    struct voice voice;
    char message[2 * ALERT_TEXT_SIZE];
    evening_answer(&answer, e, &solved);
    check_standing_line(frame, left, alert->kind == ALERT_RECENTRE, &answer);
    voice_begin(&voice);
    watch_report_alert(voice.stream, &style, alert, frame, &answer);
    char *text = voice_end(&voice);
    voice_says(text, "which centres ", e->plan.batch_frames, 0);
    voice_may_say(text, "this batch of ", e->plan.batch_frames, 0);
    voice_may_say(text, "ends in ", left, 0);
    ck_assert_msg(strstr(text, " in 0 frames") == NULL, "%s", text);
    check_move(text, advice_move(&answer.advice));
    free(text);
    watch_write_message(message, sizeof message, alert, &answer);
    check_move(message, advice_move(&answer.advice));
    style.json = true;
    voice_begin(&voice);
    watch_report_alert(voice.stream, &style, alert, frame, &answer);
    struct json_object *json = voice_end_json(&voice);
    ck_assert_str_eq(voice_word(json, "text"), alert->text);
    assert_near(voice_number(json, "move.pan_right_deg"), advice_move(&answer.advice)->pan_deg,
                1e-5, "deg");
    voice_free_json(json);
}

/* The head is turned by what aim says; then the watcher counts the frames. */
static void check_watch(struct evening *e)
{
    struct watch_advice advice = {.context = &e->context};
    struct alerts alerts = {.wish = {.warn_frames = 3}};
    int frames = e->plan.batch_frames, told_at = -1;
    e->tripod.azimuth_deg += e->answer.advice.lead.move.pan_deg;
    e->tripod.altitude_deg += e->answer.advice.lead.move.tilt_deg;
    for (int i = 0; i <= frames + 1; i += i == 2 && frames > 12 ? frames - 10 : 1) {
        struct night_frame frame = evening_frame(e, i);
        struct night_step step;
        struct alert told[ALERTS_MOST];
        evening_solved(&e->solved, e, i);
        watch_advice_step(&step, &advice, &frame);
        ck_assert(!step.late && step.on_target && step.has_batch);
        ck_assert_int_eq((int)step.batch.frames, frames);
        int count = alerts_feed(told, &alerts, &frame, &step);
        step.left = alerts_frames_left(&alerts, &step);
        if (i < frames) {
            assert_near(step.left, frames - i, 1e-3, "frames left");
            check_frame_line(&frame, &step);
        }
        for (int k = 0; k < count; k++) {
            ck_assert(told[k].kind == ALERT_NEAR_EDGE || told[k].kind == ALERT_RECENTRE);
            told_at = told[k].kind == ALERT_RECENTRE && told_at < 0 ? i : told_at;
            if (told[k].kind == ALERT_NEAR_EDGE || told_at == i) {
                check_alert(e, &told[k], &frame, floor(step.left + 1e-6));
            }
        }
        night_frame_free(&frame);
    }
    assert_near(told_at, frames - 1, 1, "frames");
}

/* "re-centre every 31 frames", or "... instead of the 31 planned". */
static void check_advice(const struct evening *e, const char *text)
{
    char exposure[24], keep[80];
    shutter_write(exposure, sizeof exposure, e->plan.exposure_s);
    snprintf(keep, sizeof keep, "keep to the plan: %s, re-centre every %d frames", exposure,
             e->plan.batch_frames);
    if (strstr(text, "keep to the plan: ")) {
        ck_assert_msg(strstr(text, keep) != NULL, "no \"%s\" in: %s", keep, text);
    } else if (strstr(text, "instead of the ")) {
        voice_says(text, "instead of the ", e->plan.batch_frames, 0);
    } else {
        voice_says(text, "re-centre every ", e->plan.batch_frames, 0);
        ck_assert_msg(strstr(text, "as planned; this lens allows ") != NULL, "%s", text);
    }
}

/* The text, the JSON and the page of a review. */
static void check_review_voices(const struct evening *e, const struct review *review)
{
    struct voice voice;
    struct error err = {0};
    const struct file_target page = {.name = scratch_path("night.html")};
    voice_begin(&voice);
    review_report_text(voice.stream, review, NULL);
    char *text = voice_end(&voice);
    check_advice(e, text);
    free(text);
    voice_begin(&voice);
    ck_assert_int_eq(review_json_write(voice.stream, review, NULL, &err), 0);
    struct json_object *json = voice_end_json(&voice);
    check_advice(e, voice_word(json, "advice"));
    voice_free_json(json);
    ck_assert_msg(night_page_write(&page, review, NULL, NULL, NULL, &err) == 0, "%s", err.text);
    text = voice_of_file(page.name);
    check_advice(e, text);
    free(text);
}

static void check_review(const struct evening *e)
{
    enum { FRAMES = 12 };
    struct night_list list = {.frame = calloc(FRAMES, sizeof *list.frame), .count = FRAMES};
    for (int i = 0; i < FRAMES; i++) {
        list.frame[i] = evening_frame(e, i);
    }
    struct review *review = night_fixture_review(&list, &e->context.target);
    review->plan = &e->plan;
    check_review_voices(e, review);
    night_fixture_free(review, &list);
}

static void check_plan_words(const struct plan_sheet *sheet, const struct night_plan *plan)
{
    struct voice voice;
    voice_begin(&voice);
    plan_report_target(voice.stream, sheet);
    char *text = voice_end(&voice), frames[40];
    snprintf(frames, sizeof frames, "shoot %d x ", plan->frames);
    voice_says(text, frames, plan->exposure_s, 1e-9);
    if (sheet->item->shots.recentrings) {
        char *batch = strstr(text, "re-centre every ");
        ck_assert_msg(batch != NULL, "%s", text);
        batch = strstr(batch, " = ");
        ck_assert_msg(batch && strtol(batch + 3, NULL, 10) == plan->batch_frames, "%d in: %s",
                      plan->batch_frames, text);
    } else {
        ck_assert_msg(strstr(text, "re-centre not needed") != NULL, "%s", text);
    }
    if (!plan_knows_smear(sheet->settings)) {
        ck_assert_msg(strstr(text, "depends on how the lens distorts") != NULL, "%s", text);
        ck_assert_int_eq(voice_may_say(text, "edge then widen by ", 0, 0), 0);
    } else if (sheet->item->shots.batch.has_smear) {
        voice_says(text, "edge then widen by ", 100 * plan->widening, 0.51);
    }
    free(text);
}

static void check_plan_json(const struct plan_sheet *sheet, const struct night_plan *plan)
{
    struct voice voice;
    struct error err = {0};
    voice_begin(&voice);
    ck_assert_int_eq(plan_json_target(voice.stream, sheet, &err), 0);
    struct json_object *json = voice_end_json(&voice);
    assert_near(voice_number(json, "target.shots.exposure_s"), plan->exposure_s, 6e-4, "s");
    assert_near(voice_number(json, "target.shots.frames"), plan->frames, 0, "frames");
    assert_near(voice_number(json, "target.shots.recentre_frames"), plan->batch_frames, 0,
                "frames");
    if (sheet->item->shots.batch.has_smear) {
        assert_near(voice_number(json, "target.shots.widening"), plan->widening, 6e-4, "");
    } else {
        ck_assert(isnan(voice_number(json, "target.shots.widening")) && plan->widening == 0);
    }
    assert_near(voice_number(json, "target.frame.ra_deg"), plan->middle.ra_deg, 2e-3, "deg");
    voice_free_json(json);
}

/* In the order in which it was drawn. */
static void check_card(const struct plan_sheet *sheet, const struct night_plan *plan)
{
    const struct file_target target = {.name = scratch_path("card.pdf")};
    struct error err = {0};
    ck_assert_msg(card_write(&target, PAGE_PDF, false, sheet, NULL, &err) == 0, "%s", err.text);
    char *text = voice_of_pdf(target.name), before[60];
    if (!text) {
        return;
    }
    voice_says(text, "EXPOSURE ", plan->exposure_s, 1e-9);
    snprintf(before, sizeof before, "Manual, f/%g, ", plan->f_number);
    voice_says(text, before, plan->exposure_s, 1e-9);
    voice_says(text, "FRAMES ", plan->frames, 0);
    snprintf(before, sizeof before, "%d lights of ", plan->frames);
    voice_says(text, before, plan->exposure_s, 1e-9);
    if (sheet->item->shots.recentrings) {
        voice_says(text, "RE-CENTRE AFTER ", plan->batch_frames, 0);
    } else {
        ck_assert_msg(strstr(text, "RE-CENTRE AFTER never") != NULL, "%s", text);
    }
    free(text);
}

static void check_plan(const struct evening *e)
{
    struct approach approach;
    const struct plan_sheet sheet = {.settings = &e->settings,
                                     .night = &e->night,
                                     .item = &e->item,
                                     .approach = &approach,
                                     .objects = &objects,
                                     .place = "a place",
                                     .camera = "a camera"};
    ck_assert(approach_find(&approach, &objects, &e->night.place, NULL, e->item.begin,
                            e->item.fit.ra_deg, e->item.fit.dec_deg));
    check_plan_words(&sheet, &e->plan);
    check_plan_json(&sheet, &e->plan);
    check_card(&sheet, &e->plan);
}

/* Without a plan, aim before the move and the watcher after it decide by the same rules; high up a
 * level camera turns on the sky between them, and with it the way that the drift takes through the
 * picture, so there it is left out. */
static void check_without_plan(struct evening *e)
{
    struct wcs after;
    struct ground ground;
    struct stand stand;
    const struct head level = {0};
    const struct batch_sight sight = {&stand, &level, e->plan.exposure_s,
                                      night_plan_every_s(&e->plan), (double)INFINITY};
    struct batch_length watched;
    e->context.plan = NULL;
    e->wish.accept = e->plan.accept;
    double azimuth = e->tripod.azimuth_deg, altitude = e->tripod.altitude_deg;
    e->tripod.azimuth_deg -= e->answer.advice.lead.move.pan_deg;
    e->tripod.altitude_deg -= e->answer.advice.lead.move.tilt_deg;
    evening_ask_aim(e);
    e->tripod.azimuth_deg = azimuth;
    e->tripod.altitude_deg = altitude;
    after = tripod_wcs(&e->tripod, 30);
    ck_assert(ground_make(&ground, &e->tripod.place, time_add(e->tripod.utc, 30)));
    stand_make(&stand, &after, &ground);
    ck_assert(batch_advise(&watched, &sight, &e->context));
    /* Which stars are at the rim differs a little, and so does the largest smear. */
    double share = watched.limit == BATCH_BY_SMEAR ? 0.05 : 0.02;
    assert_near((double)e->answer.length.frames, (double)watched.frames,
                fmax(1, share * (double)watched.frames), "frames");
}

/* Sixty in all; SAMPLE_TIMES=5 tries three hundred. */
enum { EVENINGS = 60, PARTS = 20 };

START_TEST(evenings)
{
    struct random random = {2026 + (uint64_t)_i};
    struct evening *e = calloc(1, sizeof *e);
    ck_assert_ptr_nonnull(e);
    for (int evening = 0, all = sample(EVENINGS / PARTS); evening < all;) {
        if (!evening_draw(e, &objects, &random)) {
            continue;
        }
        evening++;
        carry_plan(e);
        check_plan(e);
        evening_set_up(e, &objects, &random);
        check_aim(e);
        check_watch(e);
        check_review(e);
        if (e->item.highest_deg < 60) {
            check_without_plan(e);
        }
    }
    free(e);
}
END_TEST

static void assert_refused(const char *text, const char *says)
{
    const char *name = scratch_write("night-plan.json", text, strlen(text));
    struct night_plan plan;
    struct error err = {0};
    ck_assert_int_eq(night_plan_read(&plan, name, &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, says) != NULL, "says \"%s\", expected \"%s\"", err.text, says);
}

START_TEST(files_that_are_no_plans)
{
    assert_refused("[body Otter]\n", "is no plan of a night");
    assert_refused("{\"frame\": 1}", "it has no \"night_plan_of\"");
    assert_refused("{\"night_plan_of\": \"M 42\"}",
                   "middle_ra_deg: expected a number from 0 to 360");
    assert_refused("{\"night_plan_of\": \"M 42\", \"middle_ra_deg\": 400}",
                   "middle_ra_deg: expected");
    assert_refused("[1, 2]", "it has no");
}
END_TEST

Suite *one_voice_suite(void)
{
    Suite *suite = suite_create("one voice");
    TCase *tests = tcase_create("one voice");
    tcase_add_unchecked_fixture(tests, objects_fixture_load, objects_fixture_free);
    tcase_add_checked_fixture(tests, scratch_make, scratch_remove);
    tcase_set_timeout(tests, 120);
    tcase_add_loop_test(tests, evenings, 0, PARTS);
    tcase_add_test(tests, files_that_are_no_plans);
    suite_add_tcase(suite, tests);
    return suite;
}
