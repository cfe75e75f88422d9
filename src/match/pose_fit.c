#include "match/pose_fit.h"

#include "base/least_squares.h"

#include <math.h>
#include <string.h>

static void add_prior(struct least_squares *ls, const struct pose *pose,
                      const struct pose_prior *prior)
{
    const double now[3] = {pose->distortion, pose->x, pose->y};
    const double deviation[3] = {prior->distortion, prior->axis_px, prior->axis_px};
    for (int i = 0; i < 3; i++) {
        double row[POSE_SIZE] = {0};
        row[4 + i] = 1;
        least_squares_add(ls, row, -now[i], 1 / (deviation[i] * deviation[i]));
    }
}

static void add_pairs(struct least_squares *ls, const struct pose *pose,
                      const struct pair_finder *finder, double scale)
{
    for (int i = 0; i < finder->pairs; i++) {
        const struct pair *pair = &finder->pair[i];
        double predicted[2], seen[2], jacobian[2][POSE_SIZE];
        if (!pose_project(predicted, jacobian, pose, pair->v)) {
            continue;
        }
        pair_to_pose(seen, finder, pair->x, pair->y);
        double dx = seen[0] - predicted[0], dy = seen[1] - predicted[1];
        double weight = 1 / (scale * scale + 0.25 * (dx * dx + dy * dy));
        least_squares_add(ls, jacobian[0], dx, weight);
        least_squares_add(ls, jacobian[1], dy, weight);
    }
}

bool pose_fit(struct pose *pose, const struct pair_finder *finder, double scale,
              const struct pose_prior *prior)
{
    struct pose p = *pose;
    for (int round = 0; round < 6; round++) {
        struct least_squares ls = {.n = POSE_SIZE};
        double step[POSE_SIZE];
        add_pairs(&ls, &p, finder, scale);
        add_prior(&ls, &p, prior);
        if (!least_squares_solve(step, &p.covariance[0][0], &ls)) {
            return false;
        }
        pose_move(&p, step);
    }
    if (!(p.focal_px > 0) || !isfinite(p.focal_px)) {
        return false;
    }
    *pose = p;
    return true;
}
