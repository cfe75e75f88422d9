#include "health/foreground.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>

/* A place is hidden if of its nearest stars hardly any is seen, and few of those around them: a
 * bright nebula swallows the stars within, but not those beside it. */
enum { NEIGHBOURS = 6, HIDDEN_SEEN = 1, WIDER = 14, WIDER_SEEN = 3 };

/* A named star and the catalogue's are the same within this. */
static const double same_px = 3;

/* Of as many of the brightest stars as were matched, nearly all should be seen. */
enum { FEWEST_STARS = 40 };

static int compare_number(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

static bool is_matched(const uint32_t *matched, int count, uint32_t star)
{
    return count > 0 &&
           bsearch(&star, matched, (size_t)count, sizeof *matched, compare_number) != NULL;
}

static int brightest_around(uint32_t *star, int limit, const struct wcs *wcs,
                            const struct index *index)
{
    double ra, dec, centre[3];
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(centre, ra, dec);
    return index_brightest(star, limit, index, centre, wcs_radius_deg(wcs) * RAD_PER_DEG,
                           INT16_MAX);
}

int foreground_find(struct foreground *foreground, const struct solution *solution,
                    const struct index *index, struct error *err)
{
    enum { AROUND = 4 * FOREGROUND_STARS };
    uint32_t around[AROUND];
    uint32_t *matched = malloc(((size_t)solution->matched + 1) * sizeof *matched);
    foreground->stars = 0;
    if (!matched) {
        return error_memory(err);
    }
    for (int i = 0; i < solution->matched; i++) {
        matched[i] = (uint32_t)solution->pair[i].catalogue;
    }
    qsort(matched, (size_t)solution->matched, sizeof *matched, compare_number);
    int wanted = solution->matched > FEWEST_STARS ? solution->matched : FEWEST_STARS;
    wanted = wanted < FOREGROUND_STARS ? wanted : FOREGROUND_STARS;
    int count = brightest_around(around, AROUND, &solution->wcs, index);
    for (int i = 0; i < count && foreground->stars < wanted; i++) {
        double v[3], x, y;
        index_star_vector(v, &index->star[around[i]]);
        if (wcs_pixel(&x, &y, &solution->wcs, v) && wcs_inside(&solution->wcs, x, y)) {
            foreground->star[foreground->stars].x = x;
            foreground->star[foreground->stars].y = y;
            foreground->star[foreground->stars++].seen =
                is_matched(matched, solution->matched, around[i]);
        }
    }
    free(matched);
    return 0;
}

/* The nearest stars, nearest first; returns how many. */
static int find_neighbours(int *nearest, int most, const struct foreground *foreground, double x,
                           double y)
{
    double distance[WIDER];
    int count = 0;
    for (int i = 0; i < foreground->stars; i++) {
        double d = hypot(foreground->star[i].x - x, foreground->star[i].y - y);
        int place = count < most ? count : most;
        while (place > 0 && distance[place - 1] > d) {
            if (place < most) {
                distance[place] = distance[place - 1];
                nearest[place] = nearest[place - 1];
            }
            place--;
        }
        if (place < most) {
            distance[place] = d;
            nearest[place] = i;
            count += count < most;
        }
    }
    return count;
}

static int count_seen(const struct foreground *foreground, const int *nearest, int count)
{
    int seen = 0;
    for (int i = 0; i < count; i++) {
        seen += foreground->star[nearest[i]].seen;
    }
    return seen;
}

bool foreground_hides(const struct foreground *foreground, double x, double y)
{
    int nearest[WIDER];
    int count = find_neighbours(nearest, WIDER, foreground, x, y);
    return count == WIDER && count_seen(foreground, nearest, NEIGHBOURS) <= HIDDEN_SEEN &&
           count_seen(foreground, nearest, WIDER) <= WIDER_SEEN;
}

bool foreground_shows_star(const struct foreground *foreground, double x, double y)
{
    int nearest[NEIGHBOURS];
    int count = find_neighbours(nearest, NEIGHBOURS, foreground, x, y);
    if (count < NEIGHBOURS) {
        return true;
    }
    const double own_x = foreground->star[nearest[0]].x, own_y = foreground->star[nearest[0]].y;
    bool own = hypot(own_x - x, own_y - y) < same_px;
    return (own && foreground->star[nearest[0]].seen) ||
           count_seen(foreground, nearest, count) >= NEIGHBOURS - 1 - own;
}
