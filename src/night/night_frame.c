#include "night/night_frame.h"

#include "base/text.h"
#include "base/units.h"
#include "night/night_curve.h"
#include "objects/cover.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

_Static_assert(offsetof(struct night_curve, no_focal_px) == offsetof(struct night_pose, focal_px),
               "a pose in the place of a curve has no focal length");

void night_frame_free(struct night_frame *frame)
{
    free(frame->name);
    free(frame->camera);
    free(frame->lens);
    free(frame->why);
    free(frame->says);
    free(frame->trust);
    memset(frame, 0, sizeof *frame);
}

/* False if there is no memory. */
static bool copy_text(char **to, const char *text)
{
    *to = text ? text_copy(text) : NULL;
    return !text || *to;
}

/* Likewise. */
static bool copy_trust(struct trust **to, const struct trust *trust)
{
    *to = trust ? malloc(sizeof **to) : NULL;
    if (*to) {
        **to = *trust;
    }
    return !trust || *to;
}

int night_frame_copy(struct night_frame *to, const struct night_frame *from, const char *name,
                     struct error *err)
{
    *to = *from;
    bool good = copy_text(&to->name, name ? name : from->name);
    good = copy_text(&to->camera, from->camera) && good;
    good = copy_text(&to->lens, from->lens) && good;
    good = copy_text(&to->why, from->why) && good;
    good = copy_text(&to->says, from->says) && good;
    good = copy_trust(&to->trust, from->trust) && good;
    if (!good) {
        night_frame_free(to);
        return error_memory(err);
    }
    return 0;
}

const char *night_frame_why(const struct night_frame *frame)
{
    return frame->why ? frame->why : "";
}

const char *night_frame_says(const struct night_frame *frame)
{
    return frame->says ? frame->says : "";
}

void night_frame_pose(struct pose *pose, const struct night_frame *frame)
{
    const struct night_pose *from = &frame->pose;
    memcpy(pose->axis, from->axis, sizeof pose->axis);
    pose->focal_px = from->focal_px;
    pose->distortion = from->distortion;
    pose->x = from->x;
    pose->y = from->y;
    pose->half_diagonal = from->half_diagonal;
}

static void take_pose(struct night_pose *to, const struct pose *pose)
{
    memcpy(to->axis, pose->axis, sizeof to->axis);
    to->focal_px = pose->focal_px;
    to->distortion = pose->distortion;
    to->x = pose->x;
    to->y = pose->y;
    to->half_diagonal = pose->half_diagonal;
}

bool night_frame_is_settled(const struct night_frame *frame)
{
    return frame->read || frame->unread == CAUSE_CONTENT;
}

static void take_file(struct night_frame *frame, const struct night_file *given)
{
    struct night_file now;
    if (!given) {
        night_file_look(&now, frame->name);
        given = &now;
    }
    frame->bytes = given->bytes;
    frame->modified_ns = given->modified_ns;
    frame->digest = given->digest;
}

static double fact_value(const struct fact *fact)
{
    return fact->origin == FACT_UNKNOWN ? 0 : fact->value;
}

static bool take_picture(struct night_frame *out, const struct frame *frame)
{
    const struct frame_facts *facts = &frame->facts;
    out->read = true;
    out->width = frame->width;
    out->height = frame->height;
    out->focal_mm = fact_value(&facts->focal_mm);
    out->f_number = fact_value(&facts->f_number);
    out->iso = fact_value(&facts->iso);
    out->exposure_s = fact_value(&facts->exposure_s);
    out->latitude_deg = fact_value(&facts->latitude_deg);
    out->longitude_deg = fact_value(&facts->longitude_deg);
    out->height_m = fact_value(&facts->height_m);
    snprintf(out->format, sizeof out->format, "%s", frame->format);
    out->start_utc = facts->start_utc;
    out->start_local = facts->start_local;
    bool good = copy_text(&out->camera, facts->camera[0] ? facts->camera : NULL);
    return copy_text(&out->lens, facts->lens[0] ? facts->lens : NULL) && good;
}

static int take_solution(struct night_frame *out, const struct solution *solution,
                         struct error *err)
{
    const struct wcs *wcs = &solution->wcs;
    out->solved = solution->solved;
    out->detected = solution->detected;
    if (!solution->solved) {
        out->why = text_copy(solution->why);
        return out->why ? 0 : error_memory(err);
    }
    wcs_centre(wcs, &out->ra_deg, &out->dec_deg);
    wcs_field(wcs, &out->field_width_deg, &out->field_height_deg);
    out->scale_arcsec = wcs_scale_arcsec(wcs);
    out->up_angle_deg = wcs_up_angle_deg(wcs);
    out->mirrored = wcs_mirrored(wcs);
    out->projection = wcs->projection;
    out->reach_deg = wcs->reach_deg;
    if (wcs->projection == PROJECTION_TAN) {
        take_pose(&out->pose, &solution->pose);
    } else {
        night_curve_take(&out->curve, wcs);
    }
    out->matched = solution->matched;
    out->rms_px = solution->rms_px;
    out->rms_arcsec = solution->rms_arcsec;
    out->chance_log10 = solution->chance_log10;
    out->distortion_order = wcs->order;
    out->distortion_px = wcs_corner_distortion_px(wcs);
    out->distortion_percent = 100 * wcs_corner_distortion(wcs);
    out->by_lens = solution->by_lens;
    out->middle_error_px = solution->middle_error_px;
    out->corner_error_px = solution->corner_error_px;
    out->scale_error_arcsec = (float)(solution->scale_error * out->scale_arcsec);
    /* North is where it is from the middle of the picture: near a pole it turns with that. */
    double turns = tan(out->dec_deg * RAD_PER_DEG) * out->scale_arcsec / 3600;
    out->up_angle_error_deg =
        (float)hypot(solution->turn_error_deg, solution->middle_error_px * turns);
    if (solution->trust.known) {
        out->proven_share = solution->trust.share;
        out->proven_sky_share = solution->trust.sky_share;
    }
    bool whole = !solution->trust.known || solution->trust.share >= 1;
    return copy_trust(&out->trust, whole ? NULL : &solution->trust) ? 0 : error_memory(err);
}

/* A sentence without the name of the file in front, which has its own key. */
static const char *without_name(const char *sentence, const char *name)
{
    size_t length = strlen(name);
    bool named = strncmp(sentence, name, length) == 0 && strncmp(sentence + length, ": ", 2) == 0;
    return named ? sentence + length + 2 : sentence;
}

static int take_unread(struct night_frame *frame, const struct night_source *source,
                       struct error *err)
{
    const char *why = source->unread ? source->unread->text : "could not be read";
    frame->unread = source->unread ? source->unread->cause : CAUSE_CONTENT;
    frame->read_errors = frame->unread == CAUSE_DEVICE;
    frame->why = text_copy(without_name(why, source->name));
    return frame->why ? 0 : error_memory(err);
}

static int take_health(struct night_frame *frame, const struct frame_health *health,
                       struct error *err)
{
    char says[240];
    frame->health = *health;
    health_write_verdict(says, sizeof says, health);
    frame->says = text_copy(says);
    return frame->says ? 0 : error_memory(err);
}

static int take_all(struct night_frame *frame, const struct night_source *source, struct error *err)
{
    frame->name = text_copy(source->name);
    if (!frame->name) {
        return error_memory(err);
    }
    take_file(frame, source->file);
    if (!source->frame) {
        return take_unread(frame, source, err);
    }
    int code = take_picture(frame, source->frame) ? 0 : error_memory(err);
    if (!code && source->solution) {
        code = take_solution(frame, source->solution, err);
    }
    if (!code && source->health) {
        code = take_health(frame, source->health, err);
    }
    if (source->streaks) {
        frame->streaks = *source->streaks;
    }
    return code;
}

int night_frame_make(struct night_frame *frame, const struct night_source *source,
                     struct error *err)
{
    memset(frame, 0, sizeof *frame);
    health_read_json(&frame->health, NULL); /* nothing is known */
    frame->proven_share = frame->proven_sky_share = NAN;
    int code = take_all(frame, source, err);
    if (code) {
        night_frame_free(frame);
    }
    return code;
}

void night_frame_aim(struct night_frame *frame, const struct aim_target *target)
{
    struct night_target *out = &frame->target;
    struct wcs wcs;
    struct cover cover;
    if (!night_frame_wcs(&wcs, frame)) {
        return;
    }
    cover_measure(&cover, &wcs, &target->shape, 0);
    if (frame->trust) {
        cover_keep_proven(&cover, &wcs, &target->shape, frame->trust);
    }
    memset(out, 0, sizeof *out);
    snprintf(out->name, sizeof out->name, "%s", target->name);
    out->ra_deg = target->shape.ra_deg;
    out->dec_deg = target->shape.dec_deg;
    out->has_pixel = wcs_pixel_radec(&out->x, &out->y, &wcs, out->ra_deg, out->dec_deg);
    out->share = cover.share;
    out->verdict = cover.whole ? AIM_WHOLE : cover.touched ? AIM_PARTLY : AIM_OUTSIDE;
}

/* East and north at the tangent point, as unit vectors. */
static void sky_axes(double east[3], double north[3], double ra_deg, double dec_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG;
    const double e[3] = {-sin(ra), cos(ra), 0};
    const double n[3] = {-sin(dec) * cos(ra), -sin(dec) * sin(ra), cos(dec)};
    memcpy(east, e, sizeof e);
    memcpy(north, n, sizeof n);
}

/* A pose draws an ideal radius r out to r (1 + k r^2). SIP goes the other way, and the inverse of
 * that series begins with R (1 - k R^2 + 3 k^2 R^4). */
static void add_distortion(struct wcs *wcs, double k)
{
    double second = 3 * k * k;
    wcs->order = 5;
    wcs->a[3][0] = wcs->a[1][2] = wcs->b[2][1] = wcs->b[0][3] = -k;
    wcs->a[5][0] = wcs->a[1][4] = wcs->b[4][1] = wcs->b[0][5] = second;
    wcs->a[3][2] = wcs->b[2][3] = 2 * second;
}

static void wcs_from_pose(struct wcs *wcs, const struct night_pose *pose, bool mirrored)
{
    double east[3], north[3], hand = mirrored ? -1 : 1;
    vector_to_radec(&wcs->ra_deg, &wcs->dec_deg, pose->axis[2]);
    sky_axes(east, north, wcs->ra_deg, wcs->dec_deg);
    wcs->x = 0.5 * (wcs->width - 1) + hand * pose->x;
    wcs->y = 0.5 * (wcs->height - 1) + pose->y;
    for (int i = 0; i < 2; i++) {
        double step = (i == 0 ? hand : 1) * DEG_PER_RAD / pose->focal_px;
        wcs->cd[0][i] = step * vector_dot(pose->axis[i], east);
        wcs->cd[1][i] = step * vector_dot(pose->axis[i], north);
    }
    if (pose->distortion != 0) {
        add_distortion(wcs, pose->distortion / (pose->half_diagonal * pose->half_diagonal));
    }
}

/* Its projection alone, about the middle: right there, off by the distortion at the edge. */
static void wcs_from_centre(struct wcs *wcs, const struct night_frame *frame)
{
    double up = frame->up_angle_deg * RAD_PER_DEG, step = frame->scale_arcsec / 3600;
    double hand = frame->mirrored ? -1 : 1;
    wcs->ra_deg = frame->ra_deg;
    wcs->dec_deg = frame->dec_deg;
    wcs->x = 0.5 * (wcs->width - 1);
    wcs->y = 0.5 * (wcs->height - 1);
    wcs->projection = frame->projection;
    wcs->reach_deg = frame->reach_deg;
    if (projection_is_cylinder(wcs->projection)) {
        wcs->turn_deg = frame->up_angle_deg;
        up = 0;
    }
    wcs->cd[0][0] = -hand * step * cos(up);
    wcs->cd[1][0] = hand * step * sin(up);
    wcs->cd[0][1] = -step * sin(up);
    wcs->cd[1][1] = -step * cos(up);
}

bool night_frame_wcs(struct wcs *wcs, const struct night_frame *frame)
{
    if (!frame->solved) {
        return false;
    }
    memset(wcs, 0, sizeof *wcs);
    wcs->width = frame->width;
    wcs->height = frame->height;
    if (frame->pose.focal_px > 0) {
        wcs_from_pose(wcs, &frame->pose, frame->mirrored);
    } else if (frame->projection != PROJECTION_TAN && night_curve_is_known(&frame->curve)) {
        wcs->projection = frame->projection;
        wcs->reach_deg = frame->reach_deg;
        night_curve_wcs(wcs, &frame->curve);
    } else {
        wcs_from_centre(wcs, frame);
    }
    return true;
}

enum night_clock night_frame_start(struct utc *utc, const struct night_frame *frame)
{
    if (frame->start_utc.known) {
        *utc = frame->start_utc.utc;
        return NIGHT_CLOCK_UTC;
    }
    if (frame->start_local.known) {
        *utc = frame->start_local.utc;
        return NIGHT_CLOCK_LOCAL;
    }
    if (frame->modified_ns > 0) {
        struct utc epoch = {.day = UNIX_EPOCH_JD, .fraction = 0};
        *utc = time_add(epoch, (double)frame->modified_ns / 1e9 - frame->exposure_s);
        return NIGHT_CLOCK_FILE;
    }
    return NIGHT_CLOCK_NONE;
}
