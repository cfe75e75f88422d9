/* What catalogue stars say of each zone. */
#include "match/trust.h"

#include "base/median.h"
#include "base/units.h"
#include "match/detections.h"
#include "sky/vector.h"
#include "stars/star_tree.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_WITNESSES = 2000, BIN_COUNT = 80 };

/* Share of the bright stars that are found where a solution holds: the others are blends, in the
 * glare of something, behind a branch. */
static const double bright_found = 0.9;
/* Where detections are few one may still lie somewhere by chance. */
static const double least_chance = 0.02;
/* From the magnitudes that a solution's own pairs tell; bins of its stars are so wide. */
static const double bin_mag = 0.25, beyond_limit_mag = 0.75;
/* Which brightness a detection may have, as for pairs; what is certainly no noise. */
static const double brightness_slack = 2.8, sure_snr = 5.5;
/* Stars are blended with what is nearer than so many of their widths; not looked at nearer than
 * that to the edge. */
static const double blend_sizes = 4;

/* What a zone must hear before it judges: how much the stars around it would say on average if the
 * solution holds, natural logarithm of the ratio of likelihoods; and what they must say. */
static const double heard = 6, convincing = 3;
/* A star that would say less hardly tells by itself. */
static const double clear_say = 0.7;
/* How far a zone listens, in zones, least and most. */
static const double least_reach = 0.6, most_reach = 5, reach_step = 1.25;
/* Zones apart from the largest proven region are believed if all of their stars together say so. */
static const double island_says = 12;
/* Holes of so many zones or fewer are closed, a tenth of the picture; and, where hardly more than
 * so many stars ought to show in all, whatever lies within the hull of those that do: one that is
 * lost in a nebula leaves such a hole there. */
enum { LARGEST_HOLE = TRUST_ZONES / 10, FEW_WITNESSES = 60 };
/* A fit is exact enough where no star tells if it may be off by this share of the half diagonal: a
 * mark still touches what it marks. */
static const double doubt_share = 0.005;
/* What holds a third as many certain detections as proven zones do is sky. */
static const double sky_detections = 1.0 / 3;

/* A catalogue star that ought to show. */
struct witness {
    double x, y, mag;
    double chance; /* that a detection lies so near by chance */
    bool found;
    double says;      /* for the solution, natural logarithm of a ratio of likelihoods */
    double would_say; /* on average, if the solution holds */
};

struct inquiry {
    const struct trust_fit *fit;
    const struct star_list *list;
    const struct index *index;
    struct star_tree *tree;
    int *paired; /* catalogue star of each detection, -1: none */
    double zero; /* magnitude of a star of rank magnitude 0 */
    double size; /* typical, of a star, px */
    double reach;
    double certain[TRUST_ZONES]; /* detections that are no noise */
    struct witness witness[MOST_WITNESSES];
    int witnesses;
    double limit, width; /* magnitude at which half is found, and how fast that falls */
};

static int zone_at(const struct wcs *wcs, double x, double y)
{
    int column = (int)((x + 0.5) / wcs->width * TRUST_COLUMNS);
    int row = (int)((y + 0.5) / wcs->height * TRUST_ROWS);
    column = column < 0 ? 0 : column >= TRUST_COLUMNS ? TRUST_COLUMNS - 1 : column;
    row = row < 0 ? 0 : row >= TRUST_ROWS ? TRUST_ROWS - 1 : row;
    return row * TRUST_COLUMNS + column;
}

static void zone_middle(double *x, double *y, const struct wcs *wcs, int zone)
{
    *x = (zone % TRUST_COLUMNS + 0.5) / TRUST_COLUMNS * wcs->width - 0.5;
    *y = (zone / TRUST_COLUMNS + 0.5) / TRUST_ROWS * wcs->height - 0.5;
}

/* Of certain detections in the zones around, per square pixel. */
static double density_at(const struct inquiry *q, int zone)
{
    int column = zone % TRUST_COLUMNS, row = zone / TRUST_COLUMNS, zones = 0;
    double sum = 0;
    for (int r = row - 1; r <= row + 1; r++) {
        for (int c = column - 1; c <= column + 1; c++) {
            if (r >= 0 && r < TRUST_ROWS && c >= 0 && c < TRUST_COLUMNS) {
                sum += q->certain[r * TRUST_COLUMNS + c];
                zones++;
            }
        }
    }
    const struct wcs *wcs = q->fit->wcs;
    return sum / zones * TRUST_ZONES / ((double)wcs->width * wcs->height);
}

static void count_detections(struct inquiry *q)
{
    double size = 0;
    for (int i = 0; i < q->list->count; i++) {
        const struct star *star = &q->list->star[i];
        q->certain[zone_at(q->fit->wcs, star->x, star->y)] += star->snr > sure_snr;
        q->paired[i] = -1;
    }
    for (int i = 0; i < q->fit->pairs; i++) {
        const struct star *star = &q->list->star[q->fit->star[i]];
        q->paired[q->fit->star[i]] = q->fit->catalogue[i];
        size += star->size * star->elongation;
    }
    q->size = q->fit->pairs > 0 ? size / q->fit->pairs : 1;
    q->reach = TRUST_REACH_ERRORS * q->fit->error_px + 0.5;
}

static int find_zero(struct inquiry *q, double *faintest, struct error *err)
{
    double *zero = malloc(((size_t)q->fit->pairs + 1) * sizeof *zero);
    if (!zero) {
        return error_memory(err);
    }
    *faintest = -30;
    for (int i = 0; i < q->fit->pairs; i++) {
        double mag = q->index->star[q->fit->catalogue[i]].mag / 1000.0;
        zero[i] = mag - detections_rank_magnitude(q->fit->star[i]);
        *faintest = fmax(*faintest, mag);
    }
    q->zero = q->fit->pairs > 0 ? median_of(zero, q->fit->pairs) : 0;
    free(zero);
    return 0;
}

/* Fills in found; false if the star may be hidden in the light of another. */
static bool look_for(struct witness *witness, const struct inquiry *q, int catalogue)
{
    double blend = q->reach + blend_sizes * q->size;
    int near = star_tree_nearest(q->tree, witness->x, witness->y, blend);
    witness->found = false;
    if (near < 0) {
        return true;
    }
    const struct star *star = &q->list->star[near];
    int other = q->paired[near];
    if (other == catalogue) {
        witness->found = true;
        return true;
    }
    if (other >= 0) {
        return false;
    }
    double reach = q->reach + (star->saturated ? star->size : 0);
    double seen = q->zero + detections_rank_magnitude(near);
    witness->found = hypot(star->x - witness->x, star->y - witness->y) < reach &&
                     fabs(seen - witness->mag) < brightness_slack;
    return true;
}

static int call_witnesses(struct inquiry *q, double faintest, struct error *err)
{
    const struct wcs *wcs = q->fit->wcs;
    enum { AROUND = 2 * MOST_WITNESSES };
    uint32_t *around = malloc(AROUND * sizeof *around);
    double middle[3], margin = q->reach + blend_sizes * q->size;
    if (!around) {
        return error_memory(err);
    }
    wcs_direction(middle, wcs, wcs->width / 2.0, wcs->height / 2.0);
    int count = index_brightest(around, AROUND, q->index, middle, wcs_radius_deg(wcs) * RAD_PER_DEG,
                                (int)(1000 * fmin(faintest + beyond_limit_mag, 30)));
    for (int i = 0; i < count && q->witnesses < MOST_WITNESSES; i++) {
        struct witness *w = &q->witness[q->witnesses];
        double v[3];
        index_star_vector(v, &q->index->star[around[i]]);
        if (!wcs_pixel(&w->x, &w->y, wcs, v) || w->x < margin || w->y < margin ||
            w->x > wcs->width - 1 - margin || w->y > wcs->height - 1 - margin) {
            continue;
        }
        w->mag = q->index->star[around[i]].mag / 1000.0;
        q->witnesses += look_for(w, q, (int)around[i]);
    }
    free(around);
    return 0;
}

static double share_found(double most, double mag, double limit, double width)
{
    return most / (1 + exp((mag - limit) / width));
}

/* Bins of witnesses, and what a star that is found and one that is missed say of a limit so many
 * half bins above its own magnitude, natural logarithms of likelihoods. */
struct limit_trial {
    double seen[BIN_COUNT], missed[BIN_COUNT];
    int bins; /* none is filled from here on */
    double yes[4 * BIN_COUNT], no[4 * BIN_COUNT];
};

static void sort_into_bins(struct limit_trial *trial, const struct inquiry *q, double first)
{
    memset(trial, 0, sizeof *trial);
    for (int i = 0; i < q->witnesses; i++) {
        const struct witness *w = &q->witness[i];
        int bin = (int)((w->mag - first) / bin_mag);
        bin = bin < 0 ? 0 : bin < BIN_COUNT ? bin : BIN_COUNT - 1;
        trial->seen[bin] += w->found;
        trial->missed[bin] += !w->found;
        trial->bins = bin >= trial->bins ? bin + 1 : trial->bins;
    }
}

/* For all limits and bins at once, since only their distance matters; limits count from 1. */
static void weigh_distances(struct limit_trial *trial, double most, double width)
{
    for (int i = 0; i < 2 * BIN_COUNT + 2 * trial->bins; i++) {
        double beyond = bin_mag / 2 * (i - 2 * BIN_COUNT);
        double share = fmax(0.01, share_found(most, beyond, 0, width));
        trial->yes[i] = log(share);
        trial->no[i] = log(1 - share);
    }
}

/* The magnitude to which stars show, by the likelihood of what is found among all: a part of them
 * may stand where the solution does not hold. The brightest of several that are as likely. */
static void find_limit(struct inquiry *q)
{
    static const double widths[] = {0.1, 0.2, 0.4, 0.8};
    struct limit_trial trial;
    if (q->witnesses == 0) {
        return;
    }
    double first = q->witness[0].mag, best = -INFINITY; /* the first is the brightest */
    sort_into_bins(&trial, q, first);
    for (int shape = 0; shape < 4 * 8; shape++) {
        double width = widths[shape % 4], most = 0.97 - 0.12 * (shape / 4);
        weigh_distances(&trial, most, width);
        for (int limit = 1; limit <= 2 * BIN_COUNT; limit++) {
            double sum = 0;
            for (int bin = 0; bin < trial.bins; bin++) {
                int beyond = 2 * BIN_COUNT + 2 * bin + 1 - limit;
                sum += trial.seen[bin] * trial.yes[beyond] + trial.missed[bin] * trial.no[beyond];
            }
            double mag = first + bin_mag / 2 * limit;
            if (sum > best || (sum == best && mag < q->limit)) {
                best = sum;
                q->limit = mag;
                q->width = width;
            }
        }
    }
}

static void hear_witnesses(struct inquiry *q)
{
    double area = PI * q->reach * q->reach;
    for (int i = 0; i < q->witnesses; i++) {
        struct witness *w = &q->witness[i];
        double expected = density_at(q, zone_at(q->fit->wcs, w->x, w->y)) * area;
        double chance = fmin(0.5, fmax(least_chance, 1 - exp(-expected)));
        double share = fmax(chance, share_found(bright_found, w->mag, q->limit, q->width));
        double yes = log(share / chance), no = log((1 - share) / (1 - chance));
        w->says = w->found ? yes : no;
        w->would_say = share * yes + (1 - share) * no;
        w->chance = chance;
    }
}

/* What the stars around a place say, the nearer the more, as far as is needed. False if all within
 * the farthest reach would say too little. */
static bool ask_around(double *says, const struct inquiry *q, double x, double y, double zone_px)
{
    for (double reach = least_reach; reach <= most_reach; reach *= reach_step) {
        double deviation = reach * zone_px, would_say = 0, said = 0;
        for (int i = 0; i < q->witnesses; i++) {
            const struct witness *w = &q->witness[i];
            double dx = (w->x - x) / deviation, dy = (w->y - y) / deviation;
            double square = dx * dx + dy * dy;
            if (square < 9) {
                double weight = exp(-square / 2);
                would_say += weight * w->would_say;
                said += weight * w->says;
            }
        }
        if (would_say >= heard) {
            *says = said;
            return true;
        }
    }
    return false;
}

static void judge_zones(struct trust *trust, const struct inquiry *q)
{
    const struct wcs *wcs = q->fit->wcs;
    double zone_px = sqrt((double)wcs->width * wcs->height / TRUST_ZONES);
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        double x, y, says = 0;
        zone_middle(&x, &y, wcs, zone);
        bool told = ask_around(&says, q, x, y, zone_px);
        trust->zone[zone] = (unsigned char)(!told                ? TRUST_UNTOLD
                                            : says >= convincing ? TRUST_PROVEN
                                                                 : TRUST_UNPROVEN);
    }
}

/* A region of zones that touch each other, and whether it is at the edge of the picture. */
struct region {
    int zone[TRUST_ZONES], count;
    bool at_edge;
};

typedef bool belongs(enum trust_zone zone);

static bool is_proven(enum trust_zone zone)
{
    return zone == TRUST_PROVEN;
}

static bool is_unproven(enum trust_zone zone)
{
    return zone == TRUST_UNPROVEN;
}

static void take_region(struct region *region, bool taken[TRUST_ZONES], const struct trust *trust,
                        int first, belongs *of_it)
{
    region->count = 1;
    region->at_edge = false;
    region->zone[0] = first;
    taken[first] = true;
    for (int i = 0; i < region->count; i++) {
        int column = region->zone[i] % TRUST_COLUMNS, row = region->zone[i] / TRUST_COLUMNS;
        for (int n = 0; n < 9; n++) {
            int c = column + n % 3 - 1, r = row + n / 3 - 1, next = r * TRUST_COLUMNS + c;
            if (c < 0 || r < 0 || c >= TRUST_COLUMNS || r >= TRUST_ROWS) {
                region->at_edge = true;
            } else if (!taken[next] && of_it((enum trust_zone)trust->zone[next])) {
                taken[next] = true;
                region->zone[region->count++] = next;
            }
        }
    }
}

static void set_region(struct trust *trust, const struct region *region, enum trust_zone as)
{
    for (int i = 0; i < region->count; i++) {
        trust->zone[region->zone[i]] = (unsigned char)as;
    }
}

/* What the stars in a region say, each with its whole weight. */
static double region_says(const struct region *region, const struct inquiry *q)
{
    bool within[TRUST_ZONES] = {false};
    double sum = 0;
    for (int i = 0; i < region->count; i++) {
        within[region->zone[i]] = true;
    }
    for (int i = 0; i < q->witnesses; i++) {
        sum +=
            within[zone_at(q->fit->wcs, q->witness[i].x, q->witness[i].y)] ? q->witness[i].says : 0;
    }
    return sum;
}

/* Islands that may be chance, and holes. */
static void smooth_regions(struct trust *trust, const struct inquiry *q)
{
    bool taken[TRUST_ZONES] = {false};
    struct region region, largest = {.count = 0};
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        if (!taken[zone] && trust->zone[zone] == TRUST_PROVEN) {
            take_region(&region, taken, trust, zone, is_proven);
            largest = region.count > largest.count ? region : largest;
            if (region_says(&region, q) < island_says) {
                set_region(trust, &region, TRUST_UNPROVEN);
            }
        }
    }
    set_region(trust, &largest, TRUST_PROVEN);
    memset(taken, 0, sizeof taken);
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        if (!taken[zone] && trust->zone[zone] == TRUST_UNPROVEN) {
            take_region(&region, taken, trust, zone, is_unproven);
            if (region.count <= LARGEST_HOLE && !region.at_edge) {
                set_region(trust, &region, TRUST_BESIDE);
            }
        }
    }
}

/* Twice the area of a triangle, positive if it is walked with x towards y. */
static double turn_of(const struct star *a, const struct star *b, double x, double y)
{
    return (b->x - a->x) * (y - a->y) - (b->y - a->y) * (x - a->x);
}

static int by_x(const void *left, const void *right)
{
    const struct star *a = left, *b = right;
    return a->x != b->x ? (a->x > b->x) - (a->x < b->x) : (a->y > b->y) - (a->y < b->y);
}

/* The corners of the hull of stars, in order; corner has room for twice as many. Returns how many
 * (the monotone chain of Andrew 1979, Inf. Process. Lett. 9, 216). Sorts the stars. */
static int find_hull(struct star *corner, struct star *star, int count)
{
    int corners = 0;
    qsort(star, (size_t)count, sizeof *star, by_x);
    for (int side = 0; side < 2; side++) {
        int first = corners;
        for (int i = 0; i < count; i++) {
            const struct star *next = &star[side ? count - 1 - i : i];
            while (corners >= first + 2 &&
                   turn_of(&corner[corners - 2], &corner[corners - 1], next->x, next->y) <= 0) {
                corners--;
            }
            corner[corners++] = *next;
        }
        corners--; /* the other side begins with it */
    }
    return corners;
}

static bool is_in_hull(const struct star *corner, int corners, double x, double y)
{
    for (int i = 0; i < corners; i++) {
        if (turn_of(&corner[i], &corner[(i + 1) % corners], x, y) < 0) {
            return false;
        }
    }
    return corners >= 3;
}

/* Where few stars ought to show, zones within the hull of those that are paired hold. */
static int fill_hull(struct trust *trust, const struct inquiry *q, struct error *err)
{
    int pairs = q->fit->pairs;
    if (q->witnesses > FEW_WITNESSES || pairs == 0) {
        return 0;
    }
    struct star *star = malloc(3 * (size_t)pairs * sizeof *star);
    if (!star) {
        return error_memory(err);
    }
    for (int i = 0; i < pairs; i++) {
        star[i] = q->list->star[q->fit->star[i]];
    }
    int corners = find_hull(star + pairs, star, pairs);
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        double x, y;
        zone_middle(&x, &y, q->fit->wcs, zone);
        if (trust->zone[zone] < TRUST_BESIDE && is_in_hull(star + pairs, corners, x, y)) {
            trust->zone[zone] = TRUST_BESIDE;
        }
    }
    free(star);
    return 0;
}

/* How far off the fit may be there, px; 0 if nobody knows. */
static double doubt_at(const struct trust_fit *fit, double x, double y)
{
    if (!fit->doubt_px) {
        return 0;
    }
    int column = (int)((x + 0.5) / fit->wcs->width * fit->doubt_columns);
    int row = (int)((y + 0.5) / fit->wcs->height * fit->doubt_rows);
    double doubt = fit->doubt_px[row * fit->doubt_columns + column];
    return isnan(doubt) ? 0 : doubt;
}

/* The nearest zone in which stars told; TRUST_PROVEN if there is none. */
static enum trust_zone nearest_told(const struct trust *trust, int zone)
{
    enum trust_zone nearest = TRUST_PROVEN;
    double least = INFINITY;
    for (int other = 0; other < TRUST_ZONES; other++) {
        double across = zone % TRUST_COLUMNS - other % TRUST_COLUMNS;
        double along = zone / TRUST_COLUMNS - other / TRUST_COLUMNS;
        double distance = hypot(across, along);
        if (trust->zone[other] != TRUST_UNTOLD && distance < least) {
            least = distance;
            nearest = (enum trust_zone)trust->zone[other];
        }
    }
    return nearest;
}

/* Whether the two stars nearest to a place that ought to show together speak for the solution, or
 * there are none. */
static bool nearest_agree(const struct inquiry *q, double x, double y)
{
    double distance[2] = {INFINITY, INFINITY}, says[2] = {0, 0};
    for (int i = 0; i < q->witnesses; i++) {
        const struct witness *w = &q->witness[i];
        double d = hypot(w->x - x, w->y - y);
        if (w->would_say < clear_say || d >= distance[1]) {
            continue;
        }
        int place = d < distance[0] ? 0 : 1;
        if (place == 0) {
            distance[1] = distance[0];
            says[1] = says[0];
        }
        distance[place] = d;
        says[place] = w->says;
    }
    return says[0] + says[1] >= 0;
}

/* Where too few stars ought to be to tell, what is around counts, and how exact the fit is. */
static void fill_untold(struct trust *trust, const struct inquiry *q)
{
    const struct wcs *wcs = q->fit->wcs;
    struct trust told = *trust;
    double most = doubt_share * hypot(wcs->width, wcs->height) / 2;
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        double x, y;
        zone_middle(&x, &y, wcs, zone);
        if (told.zone[zone] == TRUST_UNTOLD && nearest_told(&told, zone) != TRUST_UNPROVEN &&
            nearest_agree(q, x, y) && doubt_at(q->fit, x, y) <= most) {
            trust->zone[zone] = TRUST_BESIDE;
        }
    }
}

/* What no star of the catalogue can be seen in, the corners around a fisheye's circle among them. */
static void leave_out_unreached(struct trust *trust, const struct inquiry *q)
{
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        double x, y;
        zone_middle(&x, &y, q->fit->wcs, zone);
        if (!wcs_reaches(q->fit->wcs, x, y)) {
            trust->zone[zone] = TRUST_UNPROVEN;
        }
    }
}

static void measure_shares(struct trust *trust, const struct inquiry *q)
{
    double certain = 0;
    int proven = 0, holds = 0, sky = 0;
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        proven += trust->zone[zone] == TRUST_PROVEN;
        holds += trust->zone[zone] >= TRUST_BESIDE;
        certain += trust->zone[zone] == TRUST_PROVEN ? q->certain[zone] : 0;
    }
    const struct wcs *wcs = q->fit->wcs;
    double zone_area = (double)wcs->width * wcs->height / TRUST_ZONES;
    double usual = proven > 0 ? certain / proven : 0;
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        sky += trust->zone[zone] >= TRUST_BESIDE ||
               density_at(q, zone) * zone_area > fmax(1e-9, sky_detections * usual);
    }
    trust->share = (double)holds / TRUST_ZONES;
    trust->sky_share = sky > 0 ? (double)holds / sky : 0;
}

static int inquire(struct trust *trust, struct inquiry *q, struct error *err)
{
    double faintest = 0;
    count_detections(q);
    int code = find_zero(q, &faintest, err);
    code = code ? code : call_witnesses(q, faintest, err);
    if (code) {
        return code;
    }
    find_limit(q);
    hear_witnesses(q);
    *trust =
        (struct trust){.known = true, .width = q->fit->wcs->width, .height = q->fit->wcs->height};
    judge_zones(trust, q);
    smooth_regions(trust, q);
    code = fill_hull(trust, q, err);
    fill_untold(trust, q);
    leave_out_unreached(trust, q);
    measure_shares(trust, q);
    return code;
}

int trust_find(struct trust *trust, const struct trust_fit *fit, const struct star_list *list,
               const struct index *index, struct error *err)
{
    struct inquiry *q = calloc(1, sizeof *q);
    int code = q ? 0 : error_memory(err);
    if (q) {
        q->fit = fit;
        q->list = list;
        q->index = index;
        q->tree = star_tree_make(list);
        q->paired = malloc(((size_t)list->count + 1) * sizeof *q->paired);
        code = q->tree && q->paired ? inquire(trust, q, err) : error_memory(err);
        star_tree_free(q->tree);
        free(q->paired);
    }
    free(q);
    return code;
}
