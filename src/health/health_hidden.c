/* health/health_hidden.c: bright catalogue stars that should show and do not. */
#include "health/health_parts.h"

#include "base/units.h"
#include "sky/vector.h"
#include "stars/star_tree.h"

#include <math.h>

enum { MOST_STARS = 600, LEAST_EXPECTED = 12, LEAST_PART = 3 };

static const double margin_mag = 1.2;   /* brighter than the limit: such stars always show */
static const double missing_part = 0.6; /* share missing that makes a part hidden */
static const double reach_widths = 2, reach_errors = 3; /* of stars, and of the fit */

struct tally {
    int expected, missing;
};

/* How far from its place a star may be found: blends pull, and so do trails. */
static double reach_of(const struct frame_health *h, const struct health_input *input)
{
    double blur = isfinite(h->fwhm_px) ? h->fwhm_px : 3;
    double trail = isfinite(h->trail_px) ? h->trail_px : 0;
    return reach_widths * blur + trail / 2 + reach_errors * input->solution->rms_px;
}

static void note_hidden(struct frame_health *h, const struct tally part[])
{
    int known = 0, hidden = 0, missing = 0;
    for (int i = 0; i < HEALTH_ROWS * HEALTH_COLUMNS; i++) {
        h->expected += part[i].expected;
        missing += part[i].missing;
        if (part[i].expected >= LEAST_PART) {
            h->hidden[i] = part[i].missing > missing_part * part[i].expected;
            hidden += h->hidden[i];
            known++;
        }
    }
    if (h->expected >= LEAST_EXPECTED) {
        h->missing_share = (double)missing / h->expected;
        h->hidden_share = known > 0 ? (double)hidden / known : (double)NAN;
    }
}

int health_add_hidden(struct frame_health *health, const struct health_input *input,
                      struct error *err)
{
    const struct wcs *wcs = &input->solution->wcs;
    struct tally part[HEALTH_ROWS * HEALTH_COLUMNS] = {{0}};
    uint32_t star[MOST_STARS];
    double centre[3], v[3], x, y;
    if (!isfinite(health->limit_mag)) {
        return 0;
    }
    struct star_tree *tree = star_tree_make(input->list);
    if (!tree) {
        return error_memory(err);
    }
    wcs_direction(centre, wcs, wcs->width / 2.0, wcs->height / 2.0);
    int faintest = (int)(1000 * fmin(health->limit_mag - margin_mag, 30));
    int n = index_brightest(star, MOST_STARS, input->index, centre,
                            wcs_radius_deg(wcs) * RAD_PER_DEG, faintest);
    double reach = reach_of(health, input);
    for (int i = 0; i < n; i++) {
        index_star_vector(v, &input->index->star[star[i]]);
        if (wcs_pixel(&x, &y, wcs, v) && wcs_inside(wcs, x, y)) {
            struct tally *t = &part[health_part(input->list, x, y)];
            t->expected++;
            t->missing += star_tree_nearest(tree, x, y, reach) < 0;
        }
    }
    star_tree_free(tree);
    note_hidden(health, part);
    return 0;
}
