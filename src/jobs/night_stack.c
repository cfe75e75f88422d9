#include "jobs/night_stack.h"

#include "jobs/aim_depth.h"
#include "stack/stack_write.h"

#include <math.h>
#include <string.h>

/* Frames whose stars are so many times as wide as the usual of those in the stack, or that have
 * lost so much light to cloud, would do more harm than good. */
static const double widest = 1.6, most_dimming_mag = 1;
/* Lines of satellites and aeroplanes, in widths of stars to either side. */
static const double crossed_widths = 3;
/* Files are written again when there are so many times as many frames, and not before that time. */
static const double write_growth = 1.05, write_pause_s = 10;
/* The signal is measured when there are so many times as many frames. */
static const double measure_growth = 1.1;

bool stack_wish_given(const struct stack_wish *wish)
{
    return wish->wanted || wish->png || wish->fits;
}

void night_stack_open(struct night_stack *night, const struct stack_wish *wish,
                      const struct job_engine *engine, const struct aim_target *target)
{
    *night = (struct night_stack){
        .wish = wish,
        .engine = engine,
        .target = *target,
        .emergence = {.wanted = AIM_DEPTH_USUAL_SNR,
                      .sky_ratio = NAN,
                      .dimming_mag = NAN,
                      .width_ratio = NAN,
                      .unknown = "no frame is in the stack",
                      .no_promise = "no frame is in the stack"},
    };
}

void night_stack_free(struct night_stack *night)
{
    stack_free(&night->stack);
    calibration_free(&night->calibration);
    memset(night, 0, sizeof *night);
}

void night_stack_lose(struct night_stack *night, enum judge_cause cause)
{
    night->emergence.lights++;
    night->emergence.lost[cause]++;
}

/* Values of camera raw count from black; those of FITS by what a dark frame says. */
static bool counts_photons(const struct solved_frame *solved)
{
    return solved->frame.can.camera_raw || solved->frame.can.fits_header;
}

static int take_calibration(struct night_stack *night, const struct night_frame *frame,
                            const struct solved_frame *solved, struct error *err)
{
    const struct plane *plane = &solved->frame.luminance;
    const enum frame_kind kind = frame->health.look.kind;
    bool used = false;
    int code = 0;
    if (!plane->value || !counts_photons(solved)) {
        return 0;
    }
    if (kind == KIND_DARK) {
        code = calibration_add_dark(&used, &night->calibration, plane, frame->exposure_s,
                                    frame->iso, err);
    } else if (kind == KIND_FLAT && solved->frame.can.camera_raw) {
        code = calibration_add_flat(&used, &night->calibration, plane, 0, err);
    }
    return code;
}

static double usual_width(const struct night_stack *night)
{
    return night->width.count ? night->width.sum / night->width.count : (double)NAN;
}

/* JUDGE_NOTHING: it goes into the stack. */
static enum judge_cause find_loss(const struct night_stack *night, const struct night_frame *frame,
                                  const struct health_change *change)
{
    const unsigned moved = 1U << HEALTH_DOUBLE | 1U << HEALTH_MOTION;
    if (!frame->read) {
        return JUDGE_UNREAD;
    }
    if (!frame->solved) {
        return JUDGE_UNSOLVED;
    }
    if (frame->health.faults & moved) {
        return JUDGE_BLUR;
    }
    if (frame->health.fwhm_px > widest * usual_width(night)) {
        return JUDGE_WIDTH;
    }
    return night->stack.frames && change->dimming_mag > most_dimming_mag ? JUDGE_STARS
                                                                         : JUDGE_NOTHING;
}

static bool shows_target(const struct aim_target *target, const struct wcs *wcs)
{
    struct aim aim;
    aim_measure(&aim, target, wcs, 0);
    return aim.verdict != AIM_OUTSIDE;
}

static int start(struct night_stack *night, const struct solved_frame *solved, struct error *err)
{
    struct stack_place place;
    const struct wcs *wcs = &solved->solution.wcs;
    stack_place_for(&place, &night->target.shape, wcs, solved->frame.luminance.bin);
    return stack_start(&night->stack, &place, wcs_mirrored(wcs), err);
}

/* The health of a frame whose file does not state its black level, which darks like it know. */
static struct frame_health know_black(const struct night_stack *night,
                                      const struct frame_health *health, double exposure_s)
{
    const struct calibration *c = &night->calibration;
    struct frame_health known = *health;
    if (!known.black_known && known.linear && c->darks > 0 && exposure_s == c->dark_exposure_s) {
        known.black_known = true;
        known.sky_level -= c->dark_level;
    }
    return known;
}

/* Light of stars in it, as a share of what the first frame has; 0: not known. */
static double find_light(const struct night_stack *night, const struct night_frame *frame,
                         const struct health_change *change)
{
    const struct frame_health *before = &night->reference, *now = &frame->health;
    double longer = frame->exposure_s / night->reference_s;
    if (!night->stack.frames || !before->linear || !now->linear) {
        return 0;
    }
    double clear = isfinite(before->zero_mag) && isfinite(now->zero_mag)
                       ? pow(10, -0.4 * change->dimming_mag)
                       : 1;
    return clear * (longer > 0 ? longer : 1);
}

static void note_change(struct night_stack *night, const struct night_frame *frame,
                        const struct health_change *change)
{
    struct emergence *e = &night->emergence;
    if (isfinite(change->sky_ratio)) {
        night->sky.sum += change->sky_ratio;
        e->sky_ratio = night->sky.sum / ++night->sky.count;
    }
    if (isfinite(change->dimming_mag)) {
        night->dimming.sum += change->dimming_mag;
        e->dimming_mag = night->dimming.sum / ++night->dimming.count;
    }
    if (frame->health.fwhm_px > 0) {
        night->width.sum += frame->health.fwhm_px;
        night->width.count++;
        e->width_ratio = usual_width(night) / night->reference.fwhm_px;
    }
}

/* The first frame that can promises for all. */
static void find_promise(struct night_stack *night, const struct night_frame *frame,
                         const struct solved_frame *solved)
{
    struct emergence *e = &night->emergence;
    struct signal_outlook outlook = {.wanted = e->wanted};
    double electrons;
    if (e->has_promise || !night->engine) {
        return;
    }
    const struct frame_health health =
        know_black(night, solved->has_health ? &solved->health : &frame->health, frame->exposure_s);
    const struct aim_depth_sight sight = {
        solved, &health, rig_in_use_body(&night->engine->rig, &solved->frame.facts),
        night->target.object};
    const char *obstacle = aim_depth_foresee(&outlook, &electrons, &sight);
    e->has_promise = !obstacle;
    snprintf(e->no_promise, sizeof e->no_promise, "%s", obstacle ? obstacle : "");
    if (e->has_promise) {
        e->once = outlook.signal.once;
        e->off_mag = outlook.sigma_mag;
    }
}

static int add(struct night_stack *night, const struct night_frame *frame,
               struct solved_frame *solved, const struct health_change *change, struct error *err)
{
    struct emergence *e = &night->emergence;
    struct frame *picture = &solved->frame;
    enum stack_outcome outcome;
    bool dark = false, flat = false;
    if (counts_photons(solved)) {
        calibration_apply(&dark, &flat, &picture->luminance, &night->calibration, frame->exposure_s,
                          frame->iso, picture->can.camera_raw);
    }
    const struct stack_frame laid = {.plane = &picture->luminance,
                                     .colours = &picture->colours,
                                     .wcs = &solved->solution.wcs,
                                     .light = find_light(night, frame, change),
                                     .crossed = &frame->streaks,
                                     .crossed_px = crossed_widths * frame->health.fwhm_px,
                                     .exposure_s = frame->exposure_s,
                                     .threads = night->threads};
    int code = stack_add(&outcome, &night->stack, &laid, err);
    if (code || outcome != STACK_ADDED) {
        e->lost[JUDGE_PLACE] += !code;
        return code;
    }
    if (night->stack.frames == 1) {
        night->reference = frame->health;
        night->reference_s = frame->exposure_s;
    }
    e->darks = dark ? night->calibration.darks : e->darks;
    e->flats = flat ? night->calibration.flats : e->flats;
    e->frames = night->stack.frames;
    e->exposure_s = night->stack.exposure_s;
    note_change(night, frame, change);
    find_promise(night, frame, solved);
    if (e->frames >= night->measure_at) {
        night_stack_measure(night);
    }
    return 0;
}

static bool is_calibration(const struct night_frame *frame)
{
    return frame->read && !frame->solved && frame->health.look.kind != KIND_LIGHT &&
           frame->health.look.kind != KIND_STARLESS && frame->health.look.kind != KIND_SCENE;
}

/* Against the first frame in the stack. */
static void find_change(struct health_change *change, const struct night_stack *night,
                        const struct night_frame *frame)
{
    *change = (struct health_change){NAN, NAN, NAN};
    if (night->stack.frames) {
        const struct frame_health now = know_black(night, &frame->health, frame->exposure_s);
        const struct frame_health before = know_black(night, &night->reference, night->reference_s);
        health_compare(change, &before, &now);
    }
}

/* A promise may be broken because no frame comes into the stack any more: that is noticed too. */
static int lose(struct night_stack *night, enum judge_cause loss)
{
    night->emergence.lost[loss]++;
    if (night->stack.frames && night->emergence.lights >= night->tell_at) {
        night_stack_measure(night);
    }
    return 0;
}

int night_stack_take(struct night_stack *night, const struct night_frame *frame,
                     struct solved_frame *solved, struct error *err)
{
    struct health_change change;
    if (!night->wish) {
        return 0;
    }
    if (solved && is_calibration(frame)) {
        return take_calibration(night, frame, solved, err);
    }
    night->emergence.lights++;
    find_change(&change, night, frame);
    enum judge_cause loss = find_loss(night, frame, &change);
    bool laid =
        loss == JUDGE_NOTHING && solved && solved->solution.solved && solved->frame.luminance.value;
    loss = loss == JUDGE_NOTHING && !laid ? JUDGE_UNSOLVED : loss;
    if (laid && !shows_target(&night->target, &solved->solution.wcs)) {
        loss = JUDGE_PLACE;
    }
    if (loss != JUDGE_NOTHING) {
        return lose(night, loss);
    }
    int code = night->stack.mean ? 0 : start(night, solved, err);
    return code ? code : add(night, frame, solved, &change, err);
}

void night_stack_measure(struct night_stack *night)
{
    struct emergence *e = &night->emergence;
    struct stack_signal signal;
    stack_signal(&signal, &night->stack);
    e->known = signal.known;
    snprintf(e->unknown, sizeof e->unknown, "%s", signal.known ? "" : signal.unknown);
    e->snr = signal.once;
    e->snr_error = signal.once_error;
    emergence_note(e);
    night->measure_at = (int)fmax(e->frames + 1, ceil(e->frames * measure_growth));
    night->tell_at = (int)fmax(e->lights + 1, ceil(e->lights * measure_growth));
    night->news = true;
}

bool night_stack_is_behind(const struct night_stack *night)
{
    const struct emergence *e = &night->emergence;
    return night->stack.frames && (!e->steps || e->step[e->steps - 1].lights < e->lights);
}

int night_stack_write(struct night_stack *night, double now_s, bool last, struct error *err)
{
    const struct stack_wish *wish = night->wish;
    int frames = night->stack.frames;
    bool due = frames >= night->written * write_growth &&
               (!night->written || now_s - night->written_s >= write_pause_s);
    if (!wish || frames == night->written || !(last || due)) {
        return 0;
    }
    const struct stack_look look = {.red = wish->red};
    int code = 0;
    if (wish->png) {
        code = stack_write_png(&(struct file_target){.name = wish->png}, &night->stack, &look, err);
    }
    if (!code && wish->fits) {
        code = stack_write_fits(&(struct file_target){.name = wish->fits}, &night->stack, err);
    }
    night->written = frames;
    night->written_s = now_s;
    return code;
}
