#include "page/live_move.h"

#include "base/text.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>

/* Hands are no finer than this part of the picture. */
static const double least_part = 0.015;

void live_move_ask(struct live_move *move, const struct aim_answer *answer, double time_s)
{
    const struct advice *advice = &answer->advice;
    double altitude = advice->has_horizon ? fmin(fabs(advice->target_altitude_deg), 89) : 0;
    *move = (struct live_move){.known = true,
                               .time_s = time_s,
                               .stand = answer->stand,
                               .asked = *advice_move(advice),
                               .least_pan_deg = least_part * advice->aim.field_width_deg *
                                                advice_pan_growth(altitude),
                               .least_tilt_deg = least_part * advice->aim.field_height_deg};
    if (advice->has_horizon) {
        head_axes(&move->axes, &answer->head.head, &answer->stand.view);
    } else {
        head_axes_of_camera(&move->axes, &answer->stand.view);
    }
}

bool live_move_measure(struct live_moved *moved, const struct live_move *move,
                       const struct wcs *wcs, double time_s)
{
    double ra, dec, v[3];
    struct head_move made;
    double later_s = time_s - move->time_s;
    if (!move->known || !isfinite(later_s)) {
        return false;
    }
    wcs_radec(&ra, &dec, wcs, (wcs->width - 1) / 2.0, (wcs->height - 1) / 2.0);
    vector_from_radec(v, ra, dec);
    ground_from_sky(v, &move->stand.ground, v, later_s);
    head_reach(&made, &move->axes, &move->stand.view, v);
    *moved = (struct live_moved){made.pan_deg, made.tilt_deg};
    return true;
}

/* One axis; what is to go is told after the mark. */
static void write_axis(char *out, size_t size, double made, double asked, double least,
                       const char *const side[2], const char *mark)
{
    int decimals = fabs(asked) < 0.995 ? 2 : 1;
    double along = asked < 0 ? -made : made, rest = fabs(asked) - along;
    snprintf(out, size, "%.*f° %s of %.*f%s ", decimals, fabs(made),
             side[made < 0 || (made == 0 && asked < 0)], decimals, fabs(asked), mark);
    if (fabs(rest) < least) {
        text_append(out, size, "done");
    } else {
        text_append(out, size, "%.*f %s", decimals, fabs(rest), rest > 0 ? "to go" : "too far");
    }
}

void live_move_write(char *out, size_t size, const struct live_move *move,
                     const struct live_moved *moved)
{
    static const char *const across[2] = {"right", "left"}, *const along[2] = {"up", "down"};
    char pan[60] = "", tilt[60] = "";
    bool pans = fabs(move->asked.pan_deg) >= move->least_pan_deg;
    bool tilts = fabs(move->asked.tilt_deg) >= move->least_tilt_deg;
    const char *mark = pans && tilts ? "," : ";";
    if (pans) {
        write_axis(pan, sizeof pan, moved->pan_deg, move->asked.pan_deg, move->least_pan_deg,
                   across, mark);
    }
    if (tilts) {
        write_axis(tilt, sizeof tilt, moved->tilt_deg, move->asked.tilt_deg, move->least_tilt_deg,
                   along, mark);
    }
    snprintf(out, size, "%s%s%s%s", pans || tilts ? "moved " : "", pan, pans && tilts ? "; " : "",
             tilt);
}
