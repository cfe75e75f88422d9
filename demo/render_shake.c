#include "demo/render_shake.h"

#include "base/units.h"

#include <math.h>

enum { SWINGS = 9, DISC = 37 };

/* Each step replaces every piece by several; the last are written over those they came from. */

static int knock(struct shake_piece *piece, int n, const struct render_shake *shake)
{
    if (shake->knock_x == 0 && shake->knock_y == 0) {
        return n;
    }
    for (int i = 0; i < n; i++) {
        struct shake_piece *before = &piece[i], *after = &piece[n + i];
        *after = *before;
        before->to = after->from = shake->knock_at;
        before->share *= shake->knock_at;
        after->share *= 1 - shake->knock_at;
        after->dx += shake->knock_x;
        after->dy += shake->knock_y;
    }
    return 2 * n;
}

/* Much faster than the exposure, so that every place of the swing is there all the time. */
static int blow(struct shake_piece *piece, int n, const struct render_shake *shake)
{
    if (!(shake->wind_px > 0)) {
        return n;
    }
    double c = cos(shake->wind_angle_deg * RAD_PER_DEG);
    double s = sin(shake->wind_angle_deg * RAD_PER_DEG), reach = shake->wind_px * sqrt(2);
    for (int i = 0; i < n; i++) {
        struct shake_piece whole = piece[i];
        for (int k = 0; k < SWINGS; k++) {
            struct shake_piece *part = k ? &piece[n + i * (SWINGS - 1) + k - 1] : &piece[i];
            double at = reach * cos(PI * (k + 0.5) / SWINGS);
            *part = whole;
            part->share /= SWINGS;
            part->dx += at * c;
            part->dy += at * s;
        }
    }
    return n * SWINGS;
}

/* Points evenly over a disc, in the golden angle. */
static int defocus(struct shake_piece *piece, int n, const struct render_shake *shake)
{
    if (!(shake->defocus_px > 0)) {
        return n;
    }
    for (int i = 0; i < n; i++) {
        struct shake_piece whole = piece[i];
        for (int k = 0; k < DISC; k++) {
            struct shake_piece *part = k ? &piece[n + i * (DISC - 1) + k - 1] : &piece[i];
            double r = shake->defocus_px / 2 * sqrt((k + 0.5) / DISC);
            *part = whole;
            part->share /= DISC;
            part->dx += r * cos(2.399963 * k);
            part->dy += r * sin(2.399963 * k);
        }
    }
    return n * DISC;
}

static int bedew(struct shake_piece *piece, int n, const struct render_shake *shake)
{
    if (!(shake->dew > 0)) {
        return n;
    }
    for (int i = 0; i < n; i++) {
        struct shake_piece *core = &piece[i], *halo = &piece[n + i];
        *halo = *core;
        core->share *= 1 - 0.8 * shake->dew;
        core->width *= 1 + 1.2 * shake->dew;
        halo->share *= 0.3 * shake->dew;
        halo->width *= 6;
    }
    return 2 * n;
}

int shake_pieces(struct shake_piece piece[SHAKE_MOST], const struct render_shake *shake)
{
    piece[0] = (struct shake_piece){.to = 1, .share = 1, .width = 1};
    return bedew(piece, defocus(piece, blow(piece, knock(piece, 1, shake), shake), shake), shake);
}
