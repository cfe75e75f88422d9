#include "jobs/job_solve.h"

#include "base/parallel.h"
#include "base/stopwatch.h"
#include "jobs/accepted_trail.h"
#include "sky/vector.h"

#include <stdlib.h>
#include <string.h>

enum { STEP_READ = 1, STEP_SOLVED, STEP_JUDGED, STEPS = STEP_JUDGED };

static struct health_limits find_limits(const struct solved_frame *solved,
                                        const struct job_engine *engine,
                                        const struct solve_wish *wish)
{
    static const struct shutter usual = {.count = 0};
    struct health_limits limits = health_usual();
    const struct solution *solution = &solved->solution;
    const struct rig_body *body = rig_in_use_body(&engine->rig, &solved->frame.facts);
    int width = solved->frame.width, height = solved->frame.height;
    struct trail_frame frame = {.hints = &solved->hints, .width = width > height ? width : height};
    if (solution->solved) {
        double ra;
        wcs_centre(&solution->wcs, &ra, &frame.dec_deg);
        frame.scale_arcsec = wcs_scale_arcsec(&solution->wcs);
    }
    accepted_trail_find(&limits, &frame, &engine->rig.rig.trail, body ? &body->shutter : &usual,
                        wish->accepted_s);
    return limits;
}

/* Health, and lines across the sky: neither knows of the other. */
struct judging {
    struct solved_frame *solved;
    const struct health_input *input;
    const struct health_limits *limits;
    int code[2];
    struct error error[2];
};

static void judge_part(int part, void *context)
{
    struct judging *j = context;
    j->code[part] = part == 0
                        ? health_measure(&j->solved->health, j->input, j->limits, &j->error[0])
                        : streaks_find(&j->solved->streaks, &j->solved->frame, &j->error[1]);
}

static int judge_health(struct solved_frame *solved, const struct star_list *stars,
                        const struct job_engine *engine, const struct solve_wish *wish,
                        struct error *err)
{
    const struct health_input input = {.frame = &solved->frame,
                                       .list = stars,
                                       .solution = &solved->solution,
                                       .index = solved->index,
                                       .black_known =
                                           wish->black_known && !solved->frame.can.camera_raw,
                                       .black = wish->black};
    const struct health_limits limits = find_limits(solved, engine, wish);
    struct judging judging = {.solved = solved, .input = &input, .limits = &limits};
    double start = stopwatch_ms();
    /* Where nothing solves lines are wires, roofs, and trails of stars. */
    parallel_each(solved->solution.solved ? 2 : 1, wish->threads, judge_part, &judging);
    int failed = judging.code[0] ? 0 : 1, code = judging.code[failed];
    if (code && err) {
        *err = judging.error[failed];
    }
    solved->has_health = code == 0;
    solved->health_ms = stopwatch_ms() - start;
    return code;
}

/* Seconds from an earlier frame's start to this one's; 0 if there is no telling. */
static double passed_s(const struct frame_facts *facts, const struct solve_before *before)
{
    const struct time_stamp *start =
        facts->start_utc.known ? &facts->start_utc : &facts->start_local;
    return before->has_start && start->known ? time_between(before->start, start->utc) : 0;
}

/* Turns the pose to where it is now and makes it the first thing to be tried. What the user has
 * told of the place stays; the scale that was measured is better than any that was told. */
static void expect(struct solve_options *options, struct pose *pose, const struct frame *frame,
                   const struct solve_before *before)
{
    const double sky_deg_s = 360.98564736629 / 86400, error_deg = 0.01, scale_error = 0.03;
    const double reach_deg = 15;
    *pose = before->pose;
    pose_turn_east(pose, sky_deg_s * passed_s(&frame->facts, before));
    pose_expect(pose, error_deg);
    options->expected = pose;
    options->expected_mirrored = before->mirrored;
    options->scale_arcsec = before->scale_arcsec;
    options->scale_tolerance = scale_error;
    if (!options->near_given) {
        vector_to_radec(&options->near_ra_deg, &options->near_dec_deg, pose->axis[2]);
        options->near_given = true;
        options->within_deg = reach_deg;
    }
}

/* The lens of a frame, and the air it was taken through. */
struct known_frame {
    struct known_lens lens;
    struct horizon horizon;
};

/* False if no profile of it is kept for its focal length. The axis is told for frames in landscape
 * format. */
static bool know_lens(struct known_frame *known, const struct solved_frame *solved,
                      const struct job_engine *engine, const struct occasion_settings *occasion)
{
    const struct occasion_settings usual = OCCASION_USUAL;
    const struct frame *frame = &solved->frame;
    const struct rig_lens *lens = rig_in_use_lens(&engine->rig, &frame->facts);
    struct occasion found;
    *known = (struct known_frame){.lens.horizon = NULL};
    if (!lens || !(solved->hints.focal_mm > 0) ||
        !rig_lens_profile(&known->lens.profile, &engine->rig.file, lens, solved->hints.focal_mm)) {
        return false;
    }
    if (frame->height > frame->width) {
        known->lens.profile.axis_x = known->lens.profile.axis_y = 0;
    }
    occasion_find(&found, &frame->facts, &engine->rig.rig, occasion ? occasion : &usual);
    if (occasion_has_horizon(&found) && horizon_make(&known->horizon, &found.place, found.mid)) {
        known->lens.horizon = &known->horizon;
    }
    return true;
}

static bool is_cancelled(const struct job_control *control, const char *name, struct error *err)
{
    bool cancelled = job_is_cancelled(control);
    if (cancelled) {
        error_set(err, ERROR_CANCELLED, "%s: cancelled", name);
    }
    return cancelled;
}

static int judge(struct solved_frame *solved, const struct star_list *stars,
                 const struct job_engine *engine, const struct solve_wish *wish,
                 const struct job_control *control, struct error *err)
{
    int code = 0;
    if (is_cancelled(control, solved->name, err)) {
        return ERROR_CANCELLED;
    }
    job_progress(control, STEP_SOLVED, STEPS);
    if (wish->want_health) {
        code = judge_health(solved, stars, engine, wish, err);
    }
    if (!code) {
        job_progress(control, STEP_JUDGED, STEPS);
    }
    return code;
}

/* Square degrees; 0 where no scale is known. Nearly right will do, also of wide fields. */
static double field_area(const struct frame *frame, const struct solve_options *options)
{
    double scale = options->scale_arcsec / 3600;
    return scale * frame->width * scale * frame->height;
}

static int solve_read_frame(struct solved_frame *solved, const struct job_engine *engine,
                            const struct solve_wish *wish, const struct job_control *control,
                            struct error *err)
{
    struct star_list stars = {0};
    struct pose pose;
    struct known_frame known;
    if (is_cancelled(control, solved->name, err)) {
        return ERROR_CANCELLED;
    }
    job_progress(control, STEP_READ, STEPS);
    hints_apply(&solved->options, &solved->hints, &solved->frame, &wish->hints, &engine->rig,
                &engine->bodies);
    if (wish->before && wish->before->known) {
        expect(&solved->options, &pose, &solved->frame, wish->before);
    }
    if (know_lens(&known, solved, engine, wish->occasion)) {
        solved->options.lens = &known.lens;
    }
    solved->options.threads = wish->threads;
    solved->options.cancelled = control ? control->cancelled : NULL;
    const struct index *order[INDEX_SET_MOST];
    struct solve_indexes indexes = {.index = order, .count = engine->indexes.parts};
    index_set_order(order, &engine->indexes, field_area(&solved->frame, &solved->options));
    int code = solve_frame_among(&solved->solution, &stars, &solved->times, &solved->frame,
                                 &indexes, &solved->options, err);
    solved->index = indexes.which;
    solved->options.expected = NULL; /* these end here */
    solved->options.lens = NULL;
    solved->options.cancelled = NULL;
    code = code ? code : judge(solved, &stars, engine, wish, control, err);
    if (wish->want_stars) {
        solved->stars = stars;
    } else {
        star_list_free(&stars);
    }
    return code;
}

int job_solve(struct solved_frame *solved, const struct job_engine *engine,
              const struct picture_source *picture, const struct solve_wish *wish,
              const struct job_control *control, struct error *err)
{
    const struct frame_options how = {.reader = engine->reader,
                                      .want_picture = wish->want_picture,
                                      .want_deep = wish->want_deep,
                                      .want_samples = wish->want_samples,
                                      .keep_levels = wish->keep_levels,
                                      .want_colours = wish->keep_planes,
                                      .max_plane_pixels = JOB_PLANE_PIXELS};
    double start = stopwatch_ms();
    memset(solved, 0, sizeof *solved);
    solved->source = *picture;
    solved->name = picture->name;
    if (is_cancelled(control, picture->name, err)) {
        return ERROR_CANCELLED;
    }
    int code = frame_read_from(&solved->frame, picture, &how, err);
    solved->read_ms = stopwatch_ms() - start;
    const char *stale = code ? NULL : job_engine_stale(engine);
    if (!code && !stale) { /* else the search would go to its end, for nothing */
        code = solve_read_frame(solved, engine, wish, control, err);
        stale = job_engine_stale(engine);
    }
    if (!code && stale) {
        code =
            error_set(err, ERROR_INPUT, "%s: the index was written to while it was in use", stale);
    }
    if (!wish->keep_planes) {
        free(solved->frame.luminance.value);
        solved->frame.luminance.value = NULL;
    }
    solved->total_ms = stopwatch_ms() - start;
    return code;
}

void solved_frame_free(struct solved_frame *solved)
{
    frame_free(&solved->frame);
    solution_free(&solved->solution);
    star_list_free(&solved->stars);
    memset(solved, 0, sizeof *solved);
}

int solved_frame_note(struct night_frame *note, const struct solved_frame *solved,
                      const struct night_file *file, const struct error *unread, struct error *err)
{
    const struct night_source source = {.name = solved->name,
                                        .frame = unread ? NULL : &solved->frame,
                                        .unread = unread,
                                        .file = file,
                                        .solution = &solved->solution,
                                        .health = solved->has_health ? &solved->health : NULL,
                                        .streaks = &solved->streaks};
    int code = night_frame_make(note, &source, err);
    if (!code) {
        note->times = (struct night_times){.read_ms = solved->read_ms,
                                           .detect_ms = solved->times.detect_ms,
                                           .match_ms = solved->times.match_ms,
                                           .fit_ms = solved->times.fit_ms,
                                           .health_ms = solved->health_ms,
                                           .total_ms = solved->total_ms};
    }
    return code;
}
