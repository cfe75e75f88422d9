#include "match/known_lens.h"

#include "base/units.h"
#include "match/lens_fit.h"
#include "match/wcs_fit.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What counts on the sensor is a share of the focal length, which comes out with the fit. */
enum { ROUNDS = 2, GRID = 17 };

int known_lens_parameters(enum known_lens_way way)
{
    return way == KNOWN_LENS_SEEN ? 4 : 6;
}

int known_lens_view(struct lens_view *view, const struct pose *pose,
                    const struct pair_finder *finder, struct error *err)
{
    *view = (struct lens_view){.pose = *pose, .count = finder->pairs};
    view->sighting = malloc(((size_t)finder->pairs + 1) * sizeof *view->sighting);
    if (!view->sighting) {
        return error_memory(err);
    }
    for (int i = 0; i < finder->pairs; i++) {
        const struct pair *pair = &finder->pair[i];
        struct lens_sighting *sighting = &view->sighting[i];
        double p[2];
        pair_to_pose(p, finder, pair->x, pair->y);
        *sighting =
            (struct lens_sighting){.x = p[0],
                                   .y = p[1],
                                   .error = lens_expected_error(&finder->list->star[pair->star]),
                                   .star = pair->catalogue};
        memcpy(sighting->v, pair->v, sizeof pair->v);
    }
    return 0;
}

/* How u', v' of the lens lie on the axes of the view: undoes its focal length and stretch. */
static void set_linear(struct wcs *wcs, const struct lens_view *view, double hand)
{
    const struct pose *pose = &view->pose;
    const double p = view->stretch[0], q = view->stretch[1];
    const double unit = DEG_PER_RAD / (pose->focal_px * (1 - p * p - q * q));
    const double undo[2][2] = {{unit * (1 - p), -unit * q}, {-unit * q, unit * (1 + p)}};
    const double ra = wcs->ra_deg * RAD_PER_DEG, east[3] = {-sin(ra), cos(ra), 0};
    double north[3];
    vector_cross(north, pose->axis[2], east);
    for (int i = 0; i < 2; i++) {
        double turned = i == 0 ? hand : 1;
        wcs->cd[0][i] = wcs->cd[1][i] = 0;
        for (int k = 0; k < 2; k++) {
            wcs->cd[0][i] += turned * undo[k][i] * vector_dot(pose->axis[k], east);
            wcs->cd[1][i] += turned * undo[k][i] * vector_dot(pose->axis[k], north);
        }
    }
}

/* The WCS of a view on the axes that its directions are on. */
static void draw_view(struct wcs *wcs, const struct lens_view *view,
                      const struct lens_profile *profile, const struct pair_finder *finder)
{
    const double reach = profile->radius * view->pose.focal_px;
    const double hand = finder->mirrored ? -1 : 1;
    *wcs = (struct wcs){.width = (int)finder->list->width, .height = (int)finder->list->height};
    wcs->x = 0.5 * (wcs->width - 1) + reach * profile->axis_x;
    wcs->y = 0.5 * (wcs->height - 1) + reach * profile->axis_y;
    vector_to_radec(&wcs->ra_deg, &wcs->dec_deg, view->pose.axis[2]);
    set_linear(wcs, view, hand);
    lens_profile_bend(wcs, profile, view->pose.focal_px);
}

/* The same of the sky behind the air: polynomials through a grid of what is seen. */
static bool look_through(struct wcs *wcs, const struct horizon *horizon)
{
    struct sighting grid[GRID * GRID];
    struct wcs made = *wcs;
    double middle[3];
    for (int i = 0; i < GRID * GRID; i++) {
        struct sighting *s = &grid[i];
        s->x = (i % GRID) * (wcs->width - 1) / (GRID - 1.0);
        s->y = (i / GRID) * (wcs->height - 1) / (GRID - 1.0);
        s->weight = 1;
        wcs_direction(s->v, wcs, s->x, s->y);
        horizon_unsee(s->v, horizon, s->v, 0);
    }
    wcs_direction(middle, wcs, wcs->x, wcs->y);
    horizon_unsee(middle, horizon, middle, 0);
    vector_to_radec(&made.ra_deg, &made.dec_deg, middle);
    int order = wcs->order > WCS_FIT_MAX_ORDER ? wcs->order : WCS_FIT_MAX_ORDER;
    if (!wcs_fit(&made, grid, GRID * GRID, order)) {
        return false;
    }
    *wcs = made;
    return true;
}

bool known_lens_fit(struct wcs *wcs, const struct known_lens *lens, enum known_lens_way way,
                    const struct pose *pose, struct pair_finder *finder, double scale)
{
    const struct horizon *horizon = way == KNOWN_LENS_SEEN ? lens->horizon : NULL;
    struct lens_view view;
    struct lens_profile hand = lens->profile;
    hand.axis_x = finder->mirrored ? -hand.axis_x : hand.axis_x;
    bool good = known_lens_view(&view, pose, finder, NULL) == 0;
    view.stretches = way == KNOWN_LENS_STRETCHED;
    if (good && horizon) {
        lens_view_see(&view, horizon);
    }
    for (int round = 0; good && round < ROUNDS; round++) {
        good = lens_fit_view(&view, &hand, hand.radius * view.pose.focal_px, scale);
    }
    free(view.sighting);
    if (good) {
        draw_view(wcs, &view, &lens->profile, finder);
    }
    return good && (!horizon || look_through(wcs, horizon));
}
