/* One star's equations, and the fit of one view under a known lens. */
#include "match/lens_fit_parts.h"

#include "base/least_squares.h"
#include "sky/vector.h"

#include <math.h>
#include <stddef.h>

/* Refraction presses by 0.03 % times the square of the altitude's cotangent, half of which is
 * stretch: this is twice that at 30 degrees. */
static const double usual_stretch = 1e-3, no_stretch = 1e-9;

/* How what the picture says moves with the lens. */
static void add_lens(struct lens_rows *rows, const struct lens_profile *profile, double half_px,
                     const double from_axis[2])
{
    const double u = from_axis[0] / half_px, w = from_axis[1] / half_px;
    const double square = u * u + w * w, grow = 1 - lens_profile_at(profile, sqrt(square));
    double slope = 0, power = 1; /* of grow by the square */
    for (int i = 0; i < LENS_TERMS; i++) {
        slope -= (i + 1) * profile->term[i] * power;
        power *= square;
        rows->row[0][LENS_OWN + i] = from_axis[0] * power;
        rows->row[1][LENS_OWN + i] = from_axis[1] * power;
    }
    double *right = rows->row[0] + LENS_OWN + LENS_TERMS;
    double *down = rows->row[1] + LENS_OWN + LENS_TERMS;
    right[0] = half_px * (grow + 2 * u * u * slope);
    down[1] = half_px * (grow + 2 * w * w * slope);
    right[1] = down[0] = half_px * 2 * u * w * slope;
    rows->miss[0] = from_axis[0] * grow;
    rows->miss[1] = from_axis[1] * grow;
}

bool lens_rows(struct lens_rows *rows, const struct lens_view *view,
               const struct lens_profile *profile, double half_px,
               const struct lens_sighting *sighting)
{
    const struct pose *pose = &view->pose;
    const double least = 0.1, f = pose->focal_px;
    double z = vector_dot(pose->axis[2], sighting->v);
    if (z < least) {
        return false;
    }
    double x = vector_dot(pose->axis[0], sighting->v) / z;
    double y = vector_dot(pose->axis[1], sighting->v) / z;
    const double own[2][LENS_OWN] = {{-f * x * y, f * (1 + x * x), -f * y, f * x, f * x, f * y},
                                     {-f * (1 + y * y), f * x * y, f * x, f * y, -f * y, f * x}};
    const double from_axis[2] = {sighting->x - half_px * profile->axis_x,
                                 sighting->y - half_px * profile->axis_y};
    for (int i = 0; i < LENS_OWN; i++) {
        rows->row[0][i] = own[0][i];
        rows->row[1][i] = own[1][i];
    }
    add_lens(rows, profile, half_px, from_axis);
    rows->miss[0] -= f * (x + view->stretch[0] * x + view->stretch[1] * y);
    rows->miss[1] -= f * (y - view->stretch[0] * y + view->stretch[1] * x);
    return true;
}

void lens_expect_stretch(struct least_squares *ls, const struct lens_view *view)
{
    const double deviation = view->stretches ? usual_stretch : no_stretch;
    const double weight = 1 / (deviation * deviation);
    for (int i = 0; i < 2; i++) {
        ls->normal[LENS_TURNS + i][LENS_TURNS + i] += weight;
        ls->right[LENS_TURNS + i] -= view->stretches ? weight * view->stretch[i] : 0;
    }
}

void lens_move_view(struct lens_view *view, const double step[LENS_OWN])
{
    const double whole[POSE_SIZE] = {step[0], step[1], step[2], step[3]};
    pose_move(&view->pose, whole);
    for (int i = 0; view->stretches && i < 2; i++) {
        view->stretch[i] += step[LENS_TURNS + i];
    }
}

bool lens_fit_view(struct lens_view *view, const struct lens_profile *profile, double half_px,
                   double scale_px)
{
    enum { ROUNDS = 6 };
    struct lens_view moved = *view;
    struct least_squares ls;
    for (int round = 0; round < ROUNDS; round++) {
        double step[LENS_OWN];
        least_squares_start(&ls, LENS_OWN);
        for (int i = 0; i < view->count; i++) {
            struct lens_rows rows;
            if (!lens_rows(&rows, &moved, profile, half_px, &view->sighting[i])) {
                continue;
            }
            double square = rows.miss[0] * rows.miss[0] + rows.miss[1] * rows.miss[1];
            double weight = 1 / (scale_px * scale_px + 0.25 * square);
            least_squares_add(&ls, rows.row[0], rows.miss[0], weight);
            least_squares_add(&ls, rows.row[1], rows.miss[1], weight);
        }
        lens_expect_stretch(&ls, &moved);
        if (!least_squares_solve(step, NULL, &ls)) {
            return false;
        }
        lens_move_view(&moved, step);
    }
    if (!(moved.pose.focal_px > 0) || !isfinite(moved.pose.focal_px)) {
        return false;
    }
    *view = moved;
    return true;
}

void lens_view_see(struct lens_view *view, const struct horizon *horizon)
{
    struct pose *pose = &view->pose;
    for (int i = 0; i < view->count; i++) {
        horizon_see(view->sighting[i].v, horizon, view->sighting[i].v, 0);
    }
    for (int i = 0; i < 3; i++) { /* which air leaves not quite at right angles */
        horizon_see(pose->axis[i], horizon, pose->axis[i], 0);
    }
    double along = vector_dot(pose->axis[0], pose->axis[2]);
    for (int i = 0; i < 3; i++) {
        pose->axis[0][i] -= along * pose->axis[2][i];
    }
    vector_normalise(pose->axis[0]);
    vector_cross(pose->axis[1], pose->axis[2], pose->axis[0]);
}

double lens_expected_error(const struct star *star)
{
    return fmax(star->size, 0.1) / (star->saturated ? 1 : fmax(star->snr, 1));
}
