#include "tripod/cue.h"

#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>

/* Parts of the picture's width: how near a mark must be, and the rim in which stars are hard to
 * see. */
static const double near_part = 0.03, rim_part = 0.02;

/* A star and a name in the tables are one within this: fast stars have moved since their epoch. */
static const double same_star_deg = 0.01;

/* How hard stars are to recognise, in magnitudes: a name is worth some, a missing mark costs some,
 * and so does the greatest distance from a mark. */
static const double name_mag = 2, no_mark_mag = 5, far_mag = 2;

static const struct object *named_star(const struct objects *objects, const double v[3])
{
    for (int i = objects ? objects->deep_sky : 0; objects && i < objects->count; i++) {
        double star[3];
        vector_from_radec(star, objects->object[i].ra_deg, objects->object[i].dec_deg);
        if (vector_dot(star, v) > 0.9999 && vector_angle_deg(star, v) < same_star_deg) {
            return &objects->object[i];
        }
    }
    return NULL;
}

static int compare_stars(const void *a, const void *b)
{
    const struct cue_star *one = a, *two = b;
    return one->mag < two->mag ? -1 : one->mag > two->mag;
}

int cue_stars(struct cue_star stars[CUE_STARS], const struct solution *solution,
              const struct index *index, const struct objects *objects)
{
    int count = 0;
    for (int i = 0; i < solution->matched; i++) {
        const struct index_star *star = &index->star[solution->pair[i].catalogue];
        struct cue_star next = {.mag = star->mag / 1000.0};
        index_star_vector(next.v, star);
        if (!wcs_pixel(&next.x, &next.y, &solution->wcs, next.v)) {
            continue;
        }
        if (count < CUE_STARS) {
            stars[count++] = next;
        } else if (next.mag < stars[CUE_STARS - 1].mag) {
            stars[CUE_STARS - 1] = next;
        } else {
            continue;
        }
        qsort(stars, (size_t)count, sizeof *stars, compare_stars);
    }
    for (int i = 0; i < count; i++) {
        stars[i].object = named_star(objects, stars[i].v);
    }
    return count;
}

static bool is_well_inside(const struct wcs *wcs, double x, double y)
{
    double rim = rim_part * wcs->width;
    return x > rim && y > rim && x < wcs->width - 1 - rim && y < wcs->height - 1 - rim;
}

static double obscurity(const struct cue_star *star)
{
    return star->mag - (star->object ? name_mag : 0);
}

bool cue_find(struct cue *cue, const struct cue_star *stars, int count, const struct stand *stand,
              double turn[3][3])
{
    double best = INFINITY;
    *cue = (struct cue){0};
    for (int i = 0; i < count; i++) {
        double x, y;
        if (!is_well_inside(&stand->wcs, stars[i].x, stars[i].y) ||
            !stand_pixel(&x, &y, stand, turn, stars[i].v, 0) ||
            !is_well_inside(&stand->wcs, x, y)) {
            continue;
        }
        for (int k = -1; k < count; k++) {
            const struct cue_star *mark = k >= 0 ? &stars[k] : NULL;
            double away = mark ? hypot(mark->x - x, mark->y - y) / stand->wcs.width : 0;
            if (k == i || away > near_part) {
                continue;
            }
            double cost = obscurity(&stars[i]) +
                          (mark ? obscurity(mark) / 2 + far_mag * away / near_part : no_mark_mag);
            if (cost < best) {
                best = cost;
                *cue = (struct cue){&stars[i], x, y, mark};
            }
        }
    }
    return cue->star;
}
