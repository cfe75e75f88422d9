#include "plan/group.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>

/* What does not fit anyway is not worth turning the camera for less than this. */
static const double worth_turning = 0.97;

enum { RECENTRINGS = 4 };

/* The tangent plane of a camera: right and up are those of the picture. */
struct view {
    double ahead[3], right[3], up[3];
};

static void view_make(struct view *view, double ra_deg, double dec_deg, double up_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG, turn = up_deg * RAD_PER_DEG;
    double east[3] = {-sin(ra), cos(ra), 0};
    double north[3] = {-sin(dec) * cos(ra), -sin(dec) * sin(ra), cos(dec)};
    vector_from_radec(view->ahead, ra_deg, dec_deg);
    for (int i = 0; i < 3; i++) {
        view->up[i] = cos(turn) * north[i] + sin(turn) * east[i];
        view->right[i] = sin(turn) * north[i] - cos(turn) * east[i]; /* east is to the left */
    }
}

struct box {
    double left, right, bottom, top; /* tangents */
};

/* False if something is 80 degrees or more away. */
static bool widen(struct box *box, const struct view *view, const double v[3])
{
    double depth = vector_dot(v, view->ahead);
    if (depth < 0.17) {
        return false;
    }
    double x = vector_dot(v, view->right) / depth, y = vector_dot(v, view->up) / depth;
    box->left = fmin(box->left, x);
    box->right = fmax(box->right, x);
    box->bottom = fmin(box->bottom, y);
    box->top = fmax(box->top, y);
    return true;
}

static bool enclose(struct box *box, const struct view *view, const struct sky_ellipse *shapes,
                    int count)
{
    *box = (struct box){INFINITY, -INFINITY, INFINITY, -INFINITY};
    for (int i = 0; i < count; i++) {
        double rim[ELLIPSE_RIM_MOST][3];
        int points = ellipse_rim(rim, &shapes[i]);
        for (int k = 0; k < points; k++) {
            if (!widen(box, view, rim[k])) {
                return false;
            }
        }
    }
    return true;
}

/* Turns the camera so that the box's middle comes to the picture's. */
static void recentre(double *ra_deg, double *dec_deg, const struct view *view,
                     const struct box *box)
{
    double x = (box->left + box->right) / 2, y = (box->bottom + box->top) / 2, v[3];
    for (int i = 0; i < 3; i++) {
        v[i] = view->ahead[i] + x * view->right[i] + y * view->up[i];
    }
    vector_to_radec(ra_deg, dec_deg, v);
}

/* Near the zenith that lies elsewhere for each centre. */
static double up_of(const struct group_fit *fit, const struct group_frame *frame, double turn_deg)
{
    double zenith = radec_position_angle_deg(fit->ra_deg, fit->dec_deg, frame->zenith_ra_deg,
                                             frame->zenith_dec_deg);
    return angle_wrap_180(zenith + turn_deg);
}

/* The objects in a camera whose up makes this angle with the zenith's direction. */
static void try_turn(struct group_fit *fit, const struct sky_ellipse *shapes, int count,
                     const struct group_frame *frame, double start_ra, double start_dec,
                     double turn_deg)
{
    struct view view;
    struct box box;
    double free_width = 2 * tan(frame->width_deg / 2 * RAD_PER_DEG);
    double free_height = 2 * tan(frame->height_deg / 2 * RAD_PER_DEG);
    double margin = 2 * frame->margin * free_height;
    *fit = (struct group_fit){.ra_deg = start_ra, .dec_deg = start_dec, .fill = INFINITY};
    fit->roll_deg = -turn_deg; /* up east of the zenith is up to the left of it */
    for (int i = 0; i < RECENTRINGS; i++) {
        fit->up_deg = up_of(fit, frame, turn_deg);
        view_make(&view, fit->ra_deg, fit->dec_deg, fit->up_deg);
        if (!enclose(&box, &view, shapes, count)) {
            fit->fill = INFINITY;
            return;
        }
        recentre(&fit->ra_deg, &fit->dec_deg, &view, &box);
        double across = box.right - box.left, along = box.top - box.bottom;
        fit->fill = fmax(across / (free_width - margin), along / (free_height - margin));
        fit->across_deg = 2 * atan(across / 2) * DEG_PER_RAD;
        fit->along_deg = 2 * atan(along / 2) * DEG_PER_RAD;
    }
    fit->up_deg = up_of(fit, frame, turn_deg);
    fit->fits = fit->fill <= 1;
}

static void middle_of(double *ra_deg, double *dec_deg, const struct sky_ellipse *shapes, int count)
{
    double sum[3] = {0, 0, 0}, v[3];
    for (int i = 0; i < count; i++) {
        vector_from_radec(v, shapes[i].ra_deg, shapes[i].dec_deg);
        for (int k = 0; k < 3; k++) {
            sum[k] += v[k];
        }
    }
    vector_to_radec(ra_deg, dec_deg, vector_dot(sum, sum) > 0 ? sum : v);
}

void group_fit(struct group_fit *fit, const struct sky_ellipse *shapes, int count,
               const struct group_frame *frame)
{
    struct group_fit tried;
    double ra, dec;
    middle_of(&ra, &dec, shapes, count);
    try_turn(fit, shapes, count, frame, ra, dec, 0);
    try_turn(&tried, shapes, count, frame, ra, dec, -90);
    tried.hold = GROUP_PORTRAIT;
    if (!fit->fits && (tried.fits || tried.fill < worth_turning * fit->fill)) {
        *fit = tried;
    }
    bool level = fit->fits;
    for (int turn = -89; !level && turn <= 89; turn++) {
        try_turn(&tried, shapes, count, frame, ra, dec, turn);
        tried.hold = GROUP_TURNED;
        if (tried.fill < (tried.fits ? 1 : worth_turning) * fit->fill) {
            *fit = tried;
        }
    }
}
