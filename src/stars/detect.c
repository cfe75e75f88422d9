/* stars/detect.c: from plane to star list.
 *
 * The order of work, and why:
 * 1. The frame's own blur is measured on its bright spots (blur.c), because single exposures are
 *    trailed in one direction by an amount nobody tells.
 * 2. The plane is correlated with that blur before anything is thresholded (smooth.c), flattened,
 *    and put in units of its local noise (relief.c): a threshold on the raw plane loses half of the
 *    faint stars. The local noise also quiets trees, roofs and nebulae, whose texture counts as
 *    noise. Only the smoothed plane is kept; rows are flattened as they are looked at.
 * 3. Pixels that are connected above a low level and reach the height of a star somewhere are
 *    islands (islands.c); those in which stars have run together are cut apart (islands_part.c).
 * 4. Light, place and shape come from the plane itself (measure.c), against the level around each
 *    source, so that a star before a nebula keeps its own light and centre.
 * 5. Hot pixels, lines and soft knots go (sift.c); the rest is sorted by flux.
 *
 * The side of the sky's mesh is set in stellar widths, not in pixels: 40 as a rule. A mesh a few
 * stars wide, DETECT_FINE_MESH, takes nebulae and star clouds off but eats bloated stars, so that
 * its shapes are judged more strictly; DETECT_COARSE_MESH keeps the largest stars and is lenient.
 * DETECT_SHARP takes single pixels for stars, as in reduced pictures and maps of the sky. */
#include "base/median.h"
#include "base/units.h"
#include "stars/blur.h"
#include "stars/islands.h"
#include "stars/measure.h"
#include "stars/relief.h"
#include "stars/sift.h"
#include "stars/stars.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define LEAST_SIDE 12 /* of a plane in which a star can be told from its sky, pixels */
#define DETECTION 4.2 /* least height of a star in the relief */
#define MAX_STARS 4000
#define MEASURED 3     /* sources measured for each star that can be listed */
#define CROWDED 0.08   /* share of pixels above the isophote at which it is raised */
#define PIXEL_RMS 0.29 /* rms half-width of one pixel */

struct recipe {
    double mesh;   /* side of a cell, in widths of the profile */
    double widest; /* see sift_sources */
    bool keep_hot; /* see sift_sources */
};

static const struct recipe recipes[DETECT_RECIPES] = {
    [DETECT_PLAIN] = {40, 2.5, false},
    [DETECT_FINE_MESH] = {18, 1.8, false},
    [DETECT_COARSE_MESH] = {110, 4, false},
    [DETECT_SHARP] = {40, 2.5, true},
};

/* The isophote, or the level above it that leaves few enough pixels for deblending to stay quick in
 * pictures that are all texture. ERROR_MEMORY only. */
static int choose_isophote(double *isophote, const struct relief *r, struct error *err)
{
    size_t n = (size_t)r->width * (size_t)r->height, step = n / 5000 + 1;
    double *sample = malloc((n / step + 1) * sizeof *sample);
    if (!sample) {
        return error_memory(err);
    }
    int m = 0;
    for (size_t i = step / 2; i < n; i += step) {
        sample[m++] = relief_level(r, (int)(i % (size_t)r->width), (int)(i / (size_t)r->width));
    }
    *isophote = fmax(MEASURE_ISOPHOTE, median_quantile(sample, m, 1 - CROWDED));
    free(sample);
    return 0;
}

/* Half the area that a star of the least height has above the isophote: what is smaller is noise.
 */
static int least_area(const struct profile *p)
{
    double width = profile_width(p);
    double area = 2 * PI * width * width * log(DETECTION / MEASURE_ISOPHOTE);
    return area > 1 ? (int)area : 1;
}

static void fill_source(struct source *s, const struct islands *found, size_t i, int width)
{
    const struct island *island = &found->island[i];
    struct source blank = {.pixel = found->pixel + island->first,
                           .level = found->level + island->first,
                           .pixels = island->pixels,
                           .left = island->left,
                           .right = island->right,
                           .upper = island->upper,
                           .lower = island->lower,
                           .peak_x = island->peak % width,
                           .peak_y = island->peak / width,
                           .height = (double)island->height,
                           .merged = island->merged};
    *s = blank;
}

/* The flux of a source in the relief that all but the brightest most stay below. */
static double least_flux(const struct islands *found, int most, double *scratch)
{
    int count = (int)found->count;
    if (count <= most) {
        return -INFINITY;
    }
    for (int i = 0; i < count; i++) {
        scratch[i] = found->island[i].flux;
    }
    return median_rank(scratch, count, count - most);
}

/* source: found->count of them. Returns how many are worth judging. */
static int measure_all(struct source *source, const struct islands *found, double least,
                       const struct plane *plane, const struct relief *r, const struct profile *p)
{
    int n = 0;
    for (size_t i = 0; i < found->count; i++) {
        const struct island *island = &found->island[i];
        if ((double)island->height < DETECTION || island->flux < least) {
            continue;
        }
        fill_source(&source[n], found, i, r->width);
        measure_surround(&source[n], r, p);
        if (source[n].height >= DETECTION) {
            measure_source(&source[n], plane, r, p);
            n++;
        }
    }
    return n;
}

static int by_flux(const void *left, const void *right)
{
    const struct source *a = left, *b = right;
    if (a->flux != b->flux) {
        return a->flux < b->flux ? 1 : -1;
    }
    return a->peak_y != b->peak_y ? a->peak_y - b->peak_y : a->peak_x - b->peak_x;
}

/* For stars of a pixel: a neighbour's light spoils the flux, the place within the pixel the peak;
 * their product is the steadiest. */
static int by_flux_and_peak(const void *left, const void *right)
{
    const struct source *a = left, *b = right;
    double first = a->flux * a->peak, second = b->flux * b->peak;
    if (first != second) {
        return first < second ? 1 : -1;
    }
    return by_flux(left, right);
}

static void fill_star(struct star *t, const struct source *s, double bin)
{
    double longer, shorter;
    profile_widths(&s->shape, &longer, &shorter);
    shorter = fmax(shorter, PIXEL_RMS);
    t->x = bin * s->x + (bin - 1) / 2;
    t->y = bin * s->y + (bin - 1) / 2;
    t->flux = s->flux;
    t->peak = s->peak;
    t->size = bin * shorter;
    t->elongation = fmax(longer / shorter, 1);
    t->angle_deg = profile_angle_deg(&s->shape);
    t->snr = s->height;
    t->saturated = s->clipped > 0;
}

static int list_stars(struct star_list *list, struct source *source, int n, int bin, int most,
                      bool sharp, struct error *err)
{
    qsort(source, (size_t)n, sizeof *source, sharp ? by_flux_and_peak : by_flux);
    list->star = malloc(((size_t)n + 1) * sizeof *list->star);
    if (!list->star) {
        return error_memory(err);
    }
    for (int i = 0; i < n && list->count < most; i++) {
        if (!source[i].dropped) {
            fill_star(&list->star[list->count++], &source[i], bin);
        }
    }
    return 0;
}

static int find_stars(struct star_list *list, const struct plane *plane, struct relief *r,
                      const struct profile *p, const struct recipe *recipe, int most,
                      struct error *err)
{
    double isophote = MEASURE_ISOPHOTE;
    int code = choose_isophote(&isophote, r, err);
    if (code) {
        return code;
    }
    struct islands found = {0};
    code = islands_find(&found, r, (float)isophote, (float)DETECTION, least_area(p), 1, err);
    if (!code) {
        code = islands_part(&found, r->width, least_area(p), err);
    }
    struct source *source = malloc((found.count + 1) * sizeof *source);
    double *scratch = malloc((found.count + 1) * sizeof *scratch);
    if (!code && !(source && scratch)) {
        code = error_memory(err);
    }
    list->raw_count = (int)found.count;
    if (!code) {
        double least = least_flux(&found, most * MEASURED, scratch);
        int n = measure_all(source, &found, least, plane, r, p);
        code = sift_sources(source, n, p, recipe->widest, recipe->keep_hot, err);
        if (!code) {
            code = list_stars(list, source, n, plane->bin, most, recipe->keep_hot, err);
        }
    }
    free(source);
    free(scratch);
    islands_free(&found);
    return code;
}

int stars_detect(struct star_list *list, const struct frame *frame,
                 const struct detect_options *options, struct error *err)
{
    const struct plane *plane = &frame->luminance;
    const struct detect_options usual = {0};
    options = options ? options : &usual;
    memset(list, 0, sizeof *list);
    list->width = frame->width;
    list->height = frame->height;
    if (!plane->value || plane->width < LEAST_SIDE || plane->height < LEAST_SIDE) {
        return 0;
    }
    const struct recipe *recipe = &recipes[options->recipe];
    struct profile p;
    struct relief r = {0};
    int code = blur_measure(&p, plane, err);
    if (!code) {
        code = relief_make(&r, plane, &p, 1, err);
    }
    if (!code) {
        code = relief_flatten(&r, (int)(recipe->mesh * profile_width(&p)), 1, err);
    }
    if (!code) {
        list->sky = r.sky.typical_level;
        /* Of a single pixel, as far as the noise of neighbours is independent. */
        list->sky_noise = r.sky.typical_noise * sqrt(4 * PI) * profile_width(&p);
        int most = options->max_stars > 0 ? options->max_stars : MAX_STARS;
        code = find_stars(list, plane, &r, &p, recipe, most, err);
    }
    relief_free(&r);
    if (code) {
        star_list_free(list);
    }
    return code;
}

void star_list_free(struct star_list *list)
{
    free(list->star);
    memset(list, 0, sizeof *list);
}
