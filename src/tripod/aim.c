#include "tripod/aim.h"

#include "base/text.h"
#include "base/units.h"
#include "objects/caption.h"
#include "objects/cover.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>

const char *aim_verdict_key(enum aim_verdict verdict)
{
    static const char *const keys[] = {
        [AIM_OUTSIDE] = "no", [AIM_PARTLY] = "partly", [AIM_WHOLE] = "wholly"};
    return keys[verdict];
}

void aim_target_object(struct aim_target *target, const struct object *object)
{
    caption_full(target->name, sizeof target->name, object);
    ellipse_from_object(&target->shape, object);
    target->object = object;
    target->moves = WANDERER_NONE;
}

void aim_target_radec(struct aim_target *target, double ra_deg, double dec_deg)
{
    char ra[24], dec[24];
    text_write_ra(ra, sizeof ra, ra_deg);
    text_write_dec(dec, sizeof dec, dec_deg);
    snprintf(target->name, sizeof target->name, "%s %s", ra, dec);
    target->shape = (struct sky_ellipse){.ra_deg = ra_deg, .dec_deg = dec_deg};
    target->object = NULL;
    target->moves = WANDERER_NONE;
}

void aim_target_wanderer(struct aim_target *target, enum wanderer which)
{
    *target = (struct aim_target){.moves = which};
    snprintf(target->name, sizeof target->name, "%s%s", which == WANDERER_MOON ? "the " : "",
             wanderer_name(which));
}

bool aim_target_follow(struct aim_target *target, const struct place *place, struct utc utc)
{
    return target->moves == WANDERER_NONE ||
           wanderer_place(&target->shape, target->moves, place, utc);
}

/* Unit vectors, ICRS: where the picture's right, its upper side and its middle point to. */
struct camera {
    double right[3], up[3], out[3];
};

/* The unit vector at right angles to a direction, towards a position angle. */
static void tangent_vector(double t[3], double ra_deg, double dec_deg, double angle_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG;
    double to_north = cos(angle_deg * RAD_PER_DEG), to_east = sin(angle_deg * RAD_PER_DEG);
    t[0] = -to_north * sin(dec) * cos(ra) - to_east * sin(ra);
    t[1] = -to_north * sin(dec) * sin(ra) + to_east * cos(ra);
    t[2] = to_north * cos(dec);
}

static void camera_from_wcs(struct camera *camera, const struct wcs *wcs)
{
    double ra, dec, up = wcs_up_angle_deg(wcs);
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(camera->out, ra, dec);
    tangent_vector(camera->up, ra, dec, up);
    /* With north up, east is on the left. */
    tangent_vector(camera->right, ra, dec, wcs_mirrored(wcs) ? up + 90 : up - 90);
}

/* The two turns that bring a direction to the middle: it is first turned about the camera's up,
 * then about its new right, so target = cos(up) (cos(right) out + sin(right) right) + sin(up) up.
 */
static void find_turns(struct aim *aim, const struct camera *camera, const double v[3])
{
    double out = vector_dot(v, camera->out), right = vector_dot(v, camera->right);
    double up = vector_dot(v, camera->up);
    aim->right_deg = atan2(right, out) * DEG_PER_RAD;
    aim->up_deg = atan2(up, hypot(right, out)) * DEG_PER_RAD;
    aim->right_fields = aim->right_deg / aim->field_width_deg;
    aim->up_fields = aim->up_deg / aim->field_height_deg;
}

static void find_pixel(struct aim *aim, const struct wcs *wcs, const double v[3])
{
    aim->has_pixel = wcs_pixel(&aim->x, &aim->y, wcs, v);
    if (aim->has_pixel) {
        aim->right_part = (aim->x - (wcs->width - 1) / 2.0) / wcs->width;
        aim->up_part = -(aim->y - (wcs->height - 1) / 2.0) / wcs->height;
    }
}

/* Position angle that the target's major axis would have in the picture's middle, once the camera
 * is turned to the target: the same angle to the camera's up. */
static double turn_when_centred(const struct aim *aim, const struct camera *camera,
                                const struct sky_ellipse *shape, const struct wcs *wcs)
{
    double a = aim->right_deg * RAD_PER_DEG, b = aim->up_deg * RAD_PER_DEG;
    double axis[3], new_up[3], new_right[3];
    tangent_vector(axis, shape->ra_deg, shape->dec_deg, shape->turn_deg);
    for (int i = 0; i < 3; i++) {
        double ahead = cos(a) * camera->out[i] + sin(a) * camera->right[i];
        new_right[i] = cos(a) * camera->right[i] - sin(a) * camera->out[i];
        new_up[i] = cos(b) * camera->up[i] - sin(b) * ahead;
    }
    double from_up = atan2(vector_dot(axis, new_right), vector_dot(axis, new_up)) * DEG_PER_RAD;
    return wcs_up_angle_deg(wcs) + (wcs_mirrored(wcs) ? from_up : -from_up);
}

/* Puts the target where the camera looks now and measures it there, so that the lens's projection
 * and distortion count. */
static void find_room(struct aim *aim, const struct camera *camera, const struct sky_ellipse *shape,
                      const struct wcs *wcs, double margin_px)
{
    struct sky_ellipse centred = *shape;
    struct cover cover;
    wcs_centre(wcs, &centred.ra_deg, &centred.dec_deg);
    centred.turn_deg = turn_when_centred(aim, camera, shape, wcs);
    cover_measure(&cover, wcs, &centred, margin_px);
    aim->room = cover.whole ? AIM_FITS : AIM_TOO_LARGE;
    if (cover.whole || !shape->turn_unknown) {
        return;
    }
    centred.turn_unknown = false;
    for (centred.turn_deg = 0; centred.turn_deg < 180; centred.turn_deg += 3) {
        cover_measure(&cover, wcs, &centred, margin_px);
        if (cover.whole) {
            aim->room = AIM_MAY_FIT;
            return;
        }
    }
}

void aim_measure(struct aim *aim, const struct aim_target *target, const struct wcs *wcs,
                 double margin)
{
    const struct sky_ellipse *shape = &target->shape;
    struct camera camera;
    struct cover cover;
    double v[3];
    camera_from_wcs(&camera, wcs);
    vector_from_radec(v, shape->ra_deg, shape->dec_deg);
    *aim = (struct aim){.margin = margin, .mirrored = wcs_mirrored(wcs)};
    wcs_field(wcs, &aim->field_width_deg, &aim->field_height_deg);
    find_turns(aim, &camera, v);
    find_pixel(aim, wcs, v);
    double ra, dec;
    vector_to_radec(&ra, &dec, camera.out);
    aim->separation_deg = vector_angle_deg(camera.out, v);
    aim->position_angle_deg = radec_position_angle_deg(ra, dec, shape->ra_deg, shape->dec_deg);

    double margin_px = margin * (wcs->width < wcs->height ? wcs->width : wcs->height);
    cover_measure(&cover, wcs, shape, margin_px);
    aim->margin_kept = cover.whole;
    cover_measure(&cover, wcs, shape, 0);
    aim->share = cover.share;
    aim->verdict = cover.whole ? AIM_WHOLE : cover.touched ? AIM_PARTLY : AIM_OUTSIDE;
    aim->round_guess = shape->turn_unknown;
    find_room(aim, &camera, shape, wcs, margin_px);
}

void aim_prove(struct aim *aim, const struct aim_target *target, const struct wcs *wcs,
               const struct trust *trust)
{
    if (aim->verdict == AIM_OUTSIDE) {
        return;
    }
    struct cover cover = {aim->share, aim->verdict == AIM_WHOLE, true};
    cover_keep_proven(&cover, wcs, &target->shape, trust);
    aim->unproven = !cover.touched;
    aim->margin_kept = aim->margin_kept && cover.whole;
    aim->share = cover.share;
    aim->verdict = cover.whole ? AIM_WHOLE : cover.touched ? AIM_PARTLY : AIM_OUTSIDE;
}
