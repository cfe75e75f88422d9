#include "match/trail_ends.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>

enum { PLACES = 5 }; /* along each side */

/* Directions of some places in the picture; returns how many both reach. */
static int list_directions(double one[][3], double other[][3], const struct wcs *from,
                           const struct wcs *to)
{
    int count = 0;
    for (int i = 0; i < PLACES * PLACES; i++) {
        double x = (i % PLACES + 0.5) / PLACES * from->width - 0.5;
        double y = (i / PLACES + 0.5) / PLACES * from->height - 0.5;
        if (wcs_reaches(from, x, y) && wcs_reaches(to, x, y)) {
            wcs_direction(one[count], from, x, y);
            wcs_direction(other[count++], to, x, y);
        }
    }
    return count;
}

double trail_ends_turn(double *apart_deg, const struct wcs *from, const struct wcs *to)
{
    static const double pole[3] = {0, 0, 1};
    double one[PLACES * PLACES][3], other[PLACES * PLACES][3], across = 0, along = 0, sum = 0;
    int count = list_directions(one, other, from, to);
    for (int i = 0; i < count; i++) {
        across += one[i][0] * other[i][1] - one[i][1] * other[i][0];
        along += one[i][0] * other[i][0] + one[i][1] * other[i][1];
    }
    double turn_deg = atan2(across, along) * DEG_PER_RAD;
    for (int i = 0; i < count; i++) {
        vector_turn(one[i], pole, turn_deg);
        sum += pow(vector_angle_deg(one[i], other[i]), 2);
    }
    *apart_deg = count > 0 ? sqrt(sum / count) : INFINITY;
    return turn_deg;
}

/* Where each star stood; now receives its new number, -1: outside. Returns how many are left. */
static int move_stars(int *now, struct star_list *list, const struct wcs *then,
                      const struct wcs *wcs)
{
    int kept = 0;
    for (int i = 0; i < list->count; i++) {
        struct star star = list->star[i];
        double v[3];
        wcs_direction(v, then, star.x, star.y);
        bool shows = wcs_pixel(&star.x, &star.y, wcs, v) && wcs_inside(wcs, star.x, star.y);
        now[i] = shows ? kept : -1;
        if (shows) {
            list->star[kept++] = star;
        }
    }
    return kept;
}

int trail_ends_shift(struct solution *solution, struct star_list *list, double turn_deg,
                     struct error *err)
{
    const struct wcs then = solution->wcs;
    int *now = malloc(((size_t)list->count + 1) * sizeof *now), pairs = 0;
    if (!now) {
        return error_memory(err);
    }
    solution->wcs.ra_deg = angle_wrap_360(then.ra_deg + turn_deg);
    pose_turn_east(&solution->pose, turn_deg);
    list->count = move_stars(now, list, &then, &solution->wcs);
    for (int i = 0; i < solution->matched; i++) {
        struct match_pair pair = solution->pair[i];
        if (now[pair.star] >= 0) {
            pair.star = now[pair.star];
            solution->pair[pairs++] = pair;
        }
    }
    solution->matched = pairs;
    solution->detected = list->count;
    free(now);
    return 0;
}
