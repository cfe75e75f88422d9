#include "tripod/hiding.h"

#include "base/text.h"
#include "tripod/advice.h"

#include <math.h>
#include <stdio.h>

static bool is_hidden(double *azimuth_deg, const struct skyline *skyline,
                      const struct ground *ground, const double v[3], double later_s)
{
    double seen[3], altitude_deg;
    ground_from_sky(seen, ground, v, later_s);
    horizon_angles(azimuth_deg, &altitude_deg, seen);
    return altitude_deg < 0 || skyline_hides(skyline, *azimuth_deg, altitude_deg);
}

void hiding_find(struct hiding *hiding, const struct skyline *skyline, const struct ground *ground,
                 const double v[3], double most_s)
{
    const double step_s = 30, exact_s = 0.1;
    double azimuth_deg, before_s = 0, after_s = 0;
    *hiding = (struct hiding){0};
    if (!skyline || !skyline->points || !ground->has_place) {
        return;
    }
    hiding->known = true;
    hiding->hidden = is_hidden(&hiding->azimuth_deg, skyline, ground, v, 0);
    while (!hiding->changes && after_s < most_s) {
        before_s = after_s;
        after_s = fmin(after_s + step_s, most_s);
        hiding->changes = is_hidden(&azimuth_deg, skyline, ground, v, after_s) != hiding->hidden;
    }
    if (!hiding->changes) {
        return;
    }
    while (after_s - before_s > exact_s) {
        double middle_s = (before_s + after_s) / 2;
        bool changed = is_hidden(&azimuth_deg, skyline, ground, v, middle_s) != hiding->hidden;
        *(changed ? &after_s : &before_s) = middle_s;
    }
    hiding->change_s = after_s;
    is_hidden(&hiding->azimuth_deg, skyline, ground, v, after_s);
}

double hiding_visible_s(const struct hiding *hiding)
{
    if (hiding->hidden) {
        return 0;
    }
    return hiding->changes ? hiding->change_s : (double)INFINITY;
}

void hiding_write(char *out, size_t size, const struct hiding *hiding)
{
    const char *where = advice_direction_word(hiding->azimuth_deg);
    out[0] = '\0';
    if (hiding->hidden) {
        snprintf(out, size, "the target is behind the skyline%s%s",
                 hiding->changes ? ", and comes out in the " : "", hiding->changes ? where : "");
    } else if (hiding->changes) {
        snprintf(out, size, "the target goes behind the skyline in the %s", where);
    }
}
