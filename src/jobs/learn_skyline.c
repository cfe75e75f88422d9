#include "jobs/learn_skyline.h"

#include "base/units.h"
#include "jobs/rig_keep.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_STARS = 3000, AROUND = 3 * MOST_STARS, NEIGHBOURS = 5, OPEN_SEEN = 5, BINS = 60 };

/* Shares of those with open sky around them that are seen: in steps of a quarter magnitude, as many
 * as hold so many. Stars beside a roof show as in open sky those that are so much fainter (of
 * rendered frames; at half a degree of it, less farther up). */
static const double bin_mag = 0.25, beside_mag = 1;
static const double surely_share = 0.97, least_share = 0.1;
enum { LEAST_OPEN = 30 };

/* What a sea-level air takes of the light for each air mass (common practice, no source). */
static const double extinction_mag = 0.25;

/* A catalogue star that is in a frame. */
struct candidate {
    double x, y, azimuth_deg, altitude_deg;
    double mag; /* behind the air */
    bool seen;
};

int skyline_sights_open(struct skyline_sights *sights, struct error *err)
{
    memset(sights, 0, sizeof *sights);
    sights->open = pthread_mutex_init(&sights->lock, NULL) == 0;
    return sights->open ? 0 : error_memory(err);
}

void skyline_sights_free(struct skyline_sights *sights)
{
    if (sights->open) {
        pthread_mutex_destroy(&sights->lock);
    }
    free(sights->star);
    memset(sights, 0, sizeof *sights);
}

/* Kasten and Young 1989, Applied Optics 28, 4735 (from memory). */
static double air_mass(double altitude_deg)
{
    double high = fmax(altitude_deg, 0);
    return 1 / (sin(high * RAD_PER_DEG) + 0.50572 * pow(high + 6.07995, -1.6364));
}

static int compare_number(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

static int by_brightness(const void *a, const void *b)
{
    const struct candidate *x = a, *y = b;
    return (x->mag > y->mag) - (x->mag < y->mag);
}

/* The catalogue stars above the horizon in the frame, brightest first; returns how many. around:
 * AROUND numbers, matched: those of the pairs, in their order. */
static int find_candidates(struct candidate *out, uint32_t *around, const uint32_t *matched,
                           const struct solution *solution, const struct index *index,
                           const struct ground *ground)
{
    double ra, dec, centre[3];
    const struct wcs *wcs = &solution->wcs;
    int count = 0;
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(centre, ra, dec);
    int found = index_brightest(around, AROUND, index, centre, wcs_radius_deg(wcs) * RAD_PER_DEG,
                                INT16_MAX);
    for (int i = 0; i < found && count < MOST_STARS; i++) {
        struct candidate *star = &out[count];
        double v[3];
        index_star_vector(v, &index->star[around[i]]);
        if (!wcs_pixel(&star->x, &star->y, wcs, v) || !wcs_inside(wcs, star->x, star->y)) {
            continue;
        }
        ground_from_sky(v, ground, v, 0);
        horizon_angles(&star->azimuth_deg, &star->altitude_deg, v);
        star->mag = index->star[around[i]].mag / 1000.0 +
                    extinction_mag * (air_mass(star->altitude_deg) - 1);
        star->seen = bsearch(&around[i], matched, (size_t)solution->matched, sizeof *matched,
                             compare_number) != NULL;
        count += star->altitude_deg > 0;
    }
    qsort(out, (size_t)count, sizeof *out, by_brightness);
    return count;
}

/* Whether most of the nearest brighter stars are seen. */
static bool is_in_the_open(const struct candidate *star, int which)
{
    double nearest[NEIGHBOURS];
    bool seen[NEIGHBOURS];
    int count = 0, sum = 0;
    for (int i = 0; i < which; i++) {
        double apart = hypot(star[i].x - star[which].x, star[i].y - star[which].y);
        int place = count;
        while (place > 0 && nearest[place - 1] > apart) {
            place--;
        }
        if (place == NEIGHBOURS) {
            continue;
        }
        count += count < NEIGHBOURS;
        for (int k = count - 1; k > place; k--) {
            nearest[k] = nearest[k - 1];
            seen[k] = seen[k - 1];
        }
        nearest[place] = apart;
        seen[place] = star[i].seen;
    }
    for (int k = 0; k < count; k++) {
        sum += seen[k];
    }
    return count == NEIGHBOURS && sum >= OPEN_SEEN;
}

/* By magnitude. */
struct shares {
    double brightest, of[BINS];
};

static double share_at(const struct shares *shares, double mag)
{
    double bin = (mag - shares->brightest) / bin_mag;
    return bin < BINS ? shares->of[(int)fmax(bin, 0)] : 0;
}

/* What is seen of the stars of open sky; 0 where too few of them are that faint. */
static void find_shares(struct shares *shares, const struct candidate *star, int stars)
{
    int open[BINS] = {0}, seen[BINS] = {0}, sum = 0, sum_seen = 0;
    *shares = (struct shares){.brightest = stars ? star[0].mag : 0};
    for (int i = 0; i < stars; i++) {
        int bin = (int)((star[i].mag - shares->brightest) / bin_mag);
        if (bin < BINS && is_in_the_open(star, i)) {
            open[bin]++;
            seen[bin] += star[i].seen;
        }
    }
    for (int bin = 0, from = 0; bin < BINS; bin++) {
        sum += open[bin];
        sum_seen += seen[bin];
        if (sum >= LEAST_OPEN) {
            double share = fmin((double)sum_seen / sum, surely_share);
            for (; from <= bin; from++) {
                shares->of[from] = share;
            }
            sum = sum_seen = 0;
        }
    }
}

static int add_stars(struct skyline_sights *sights, const struct candidate *star, int stars,
                     struct error *err)
{
    struct shares shares;
    int needed = sights->stars + stars;
    if (needed > sights->room) {
        struct skyline_star *larger = realloc(sights->star, (size_t)needed * 2 * sizeof *larger);
        if (!larger) {
            return error_memory(err);
        }
        sights->star = larger;
        sights->room = needed * 2;
    }
    find_shares(&shares, star, stars);
    for (int i = 0; i < stars; i++) {
        double share = share_at(&shares, star[i].mag);
        double beside = fmin(share, share_at(&shares, star[i].mag + beside_mag));
        if (star[i].seen || share > least_share) {
            sights->star[sights->stars++] = (struct skyline_star){
                star[i].azimuth_deg, star[i].altitude_deg, star[i].seen, share, beside};
        }
    }
    sights->frames++;
    return 0;
}

static int take(struct skyline_sights *sights, const struct solution *solution,
                const struct index *index, const struct ground *ground, struct error *err)
{
    struct candidate *star = malloc(MOST_STARS * sizeof *star);
    uint32_t *around = malloc(AROUND * sizeof *around);
    uint32_t *matched = malloc(((size_t)solution->matched + 1) * sizeof *matched);
    int code = star && around && matched ? 0 : error_memory(err);
    if (!code) {
        for (int i = 0; i < solution->matched; i++) {
            matched[i] = (uint32_t)solution->pair[i].catalogue;
        }
        qsort(matched, (size_t)solution->matched, sizeof *matched, compare_number);
        int stars = find_candidates(star, around, matched, solution, index, ground);
        pthread_mutex_lock(&sights->lock);
        code = add_stars(sights, star, stars, err);
        pthread_mutex_unlock(&sights->lock);
    }
    free(star);
    free(around);
    free(matched);
    return code;
}

int skyline_sights_add(struct skyline_sights *sights, const struct solved_frame *solved,
                       const struct aim_context *context, struct error *err)
{
    struct occasion occasion;
    struct ground ground;
    occasion_find(&occasion, &solved->frame.facts, &context->engine->rig.rig,
                  &context->wish->occasion);
    if (!occasion_has_horizon(&occasion) || !occasion_ground(&ground, &occasion, true)) {
        error_set(err, ERROR_USAGE, "%s: learning a skyline needs the time in UTC", solved->name);
        return error_remedied(err, ERROR_USAGE, REMEDY_CLOCK_ZONE);
    }
    return take(sights, &solved->solution, solved->index, &ground, err);
}

static int keep(const struct learned_skyline *learned, struct error *err)
{
    enum { MOST_LINES = 32, LINE_SIZE = 170 };
    static const char key[] = "skyline";
    char line[MOST_LINES][LINE_SIZE], section[RIG_NAME_SIZE + 8];
    struct rig_value values[MOST_LINES];
    const struct skyline *skyline = &learned->lesson.skyline;
    int lines = 0;
    for (int from = 0; from < skyline->points && lines < MOST_LINES; lines++) {
        from = skyline_write(line[lines], LINE_SIZE, skyline, from);
        values[lines] = (struct rig_value){key, line[lines]};
    }
    snprintf(section, sizeof section, "place %s", learned->place);
    return rig_keep(learned->file, section, values, lines, err);
}

int learn_skyline(struct learned_skyline *learned, const struct skyline_sights *sights,
                  const struct aim_context *context, const char *file, struct error *err)
{
    const struct rig_place *place = context->engine->rig.rig.place;
    memset(learned, 0, sizeof *learned);
    if (!place || !place->entry.name[0]) {
        return error_set(err, ERROR_USAGE,
                         "learning a skyline needs a place of the settings file, with its latitude "
                         "and longitude: [place NAME]");
    }
    snprintf(learned->place, sizeof learned->place, "%s", place->entry.name);
    snprintf(learned->file, sizeof learned->file, "%s", file);
    learned->frames = sights->frames;
    learned->stars = sights->stars;
    int code = skyline_lesson_find(&learned->lesson, sights->star, sights->stars, err);
    if (!code && !(learned->lesson.known_deg > 0)) {
        code = error_set(err, ERROR_NO,
                         "no roof or tree hides enough stars in these frames: nothing is kept");
    }
    if (!code) {
        skyline_lesson_unite(&learned->lesson, &place->skyline);
        code = keep(learned, err);
    }
    return code;
}
