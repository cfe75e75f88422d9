#include "tripod/series.h"

#include "base/median.h"
#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"
#include "tripod/stand.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A tripod that was not touched still creeps a little: part of the picture's width, and at least so
 * many px. A clock counts whole seconds, and a gap may hold another. */
static const double touched_part = 0.003, touched_px = 2.5, least_jump_s = 2.5;

static int compare_frames(const void *a, const void *b)
{
    const struct series_frame *one = a, *two = b;
    double gap = time_between(one->mid, two->mid);
    return gap > 0 ? -1 : gap < 0 ? 1 : strcmp(one->name, two->name);
}

void series_sort(struct series_frame *frame, int frames)
{
    qsort(frame, (size_t)frames, sizeof *frame, compare_frames);
}

/* How far apart two views are, as the larger move of the middle and of a side of the picture, px.
 */
static double distance_px(const struct view *a, const struct view *b, const struct wcs *wcs)
{
    double width, height, middle = vector_angle_deg(a->out, b->out);
    wcs_field(wcs, &width, &height);
    double side = vector_angle_deg(a->right, b->right) * width / 2 * RAD_PER_DEG;
    return fmax(middle, side) * 3600 / wcs_scale_arcsec(wcs);
}

static bool is_touch(double moved_px, const struct wcs *wcs)
{
    return moved_px >= fmax(touched_px, touched_part * wcs->width);
}

static void turn_view(struct view *out, const struct view *view, const double axis[3],
                      double angle_deg)
{
    double turn[3][3];
    matrix_turn(turn, axis, angle_deg);
    view_turn(out, view, turn);
}

/* The angle about the pole that brings one view nearest to another: the sum over the three sides,
 * each seen along the pole. */
static double angle_about_pole(const struct view *from, const struct view *to, const double pole[3])
{
    const double *a[3] = {from->right, from->up, from->out}, *b[3] = {to->right, to->up, to->out};
    double dot = 0, cross = 0;
    for (int i = 0; i < 3; i++) {
        double across[3];
        vector_cross(across, a[i], b[i]);
        cross += vector_dot(across, pole);
        dot += vector_dot(a[i], b[i]) - vector_dot(a[i], pole) * vector_dot(b[i], pole);
    }
    return atan2(cross, dot) * DEG_PER_RAD;
}

void series_compare(struct series_step *step, const struct series_frame *a,
                    const struct series_frame *b)
{
    struct ground ground;
    struct stand from, to;
    struct view drifted;
    ground_make(&ground, NULL, a->mid);
    stand_make(&from, &a->wcs, &ground);
    stand_make(&to, &b->wcs, &ground); /* as if both were taken at once: they differ by the turn */
    step->apart_s = time_between(a->mid, b->mid);
    turn_view(&drifted, &from.view, ground.pole, SIDEREAL_DEG_S * step->apart_s);
    step->moved_px = distance_px(&drifted, &to.view, &a->wcs);
    double angle = angle_about_pole(&from.view, &to.view, ground.pole);
    turn_view(&drifted, &from.view, ground.pole, angle);
    bool only_turned = !is_touch(distance_px(&drifted, &to.view, &a->wcs), &a->wcs);
    step->sky_s = only_turned ? angle / SIDEREAL_DEG_S : NAN;
    step->touched = is_touch(step->moved_px, &b->wcs);
    double jump = step->apart_s - step->sky_s;
    step->jump_s = step->touched && fabs(jump) > least_jump_s ? jump : 0;
    step->touched = step->touched && step->jump_s == 0;
}

/* The median gap; gaps are many in a night, and a bad one is longer. */
static double median_gap(const struct series_frame *frame, int frames)
{
    enum { MOST = 1000 };
    double gap[MOST];
    int gaps = frames - 1 < MOST ? frames - 1 : MOST;
    const struct series_frame *last = frame + frames - 1 - gaps;
    for (int i = 0; i < gaps; i++) {
        gap[i] = time_between(last[i].mid, last[i + 1].mid);
    }
    return median_of(gap, gaps);
}

void series_measure(struct series *series, const struct series_frame *frame, int frames)
{
    *series = (struct series){.frames = frames,
                              .span_s = time_between(frame[0].mid, frame[frames - 1].mid),
                              .cadence_s = median_gap(frame, frames)};
    for (int i = 1; i < frames; i++) {
        struct series_step step;
        series_compare(&step, &frame[i - 1], &frame[i]);
        if (step.jump_s != 0 && !series->clock_jump) {
            series->clock_jump = i;
            series->jump_s = step.jump_s;
        }
        if (!step.touched && step.jump_s == 0) {
            series->still_px = fmax(series->still_px, step.moved_px);
        } else {
            series->still_from = i;
            series->still_px = 0;
        }
    }
}
