/* stars/stars_detect.c: from plane to star list.
 *
 * The order of work, and why:
 * 1. The frame's own blur is measured on its bright spots (blur.c), because single exposures are
 *    trailed in one direction by an amount nobody tells.
 * 2. The plane is correlated with that blur before anything is thresholded (smooth.c), flattened,
 *    and put in units of its local noise (relief.c): a threshold on the raw plane loses half of the
 *    faint stars. The local noise also quiets trees, roofs and nebulae, whose texture counts as
 *    noise. Only the smoothed plane is kept; what of a row may reach a star's height is flattened
 *    as it is looked at.
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
#include "base/units.h"
#include "stars/blur.h"
#include "stars/relief.h"
#include "stars/sift.h"
#include "stars/sources.h"
#include "stars/stars.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define LEAST_SIDE 12 /* of a plane in which a star can be told from its sky, pixels */
#define MAX_STARS 4000
#define MEASURED 3     /* sources measured for each star that can be listed */
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

/* What the recipes share. */
struct star_work {
    const struct frame *frame;
    struct profile p;
    struct relief relief;
    int most;               /* sources that DETECT_PLAIN has chosen, */
    struct sources sources; /* its sources, which come out in another order, */
    double sky, noise;      /* and their sky */
};

/* Blur and filter are the same for all. */
static int start(struct star_work *w, const struct frame *frame, int threads, struct error *err)
{
    w->frame = frame;
    int code = blur_measure(&w->p, &frame->luminance, threads, err);
    return code ? code : relief_make(&w->relief, &frame->luminance, &w->p, threads, err);
}

static int mesh_of(const struct star_work *w, const struct recipe *recipe)
{
    return (int)(recipe->mesh * profile_width(&w->p));
}

/* Sources with the recipe's sky; those of the plain recipe are known, or NULL. */
static int find_sources(struct sources *found, double *sky, double *noise, struct star_work *w,
                        const struct recipe *recipe, const struct sources *known, int threads,
                        struct error *err)
{
    int code = relief_flatten(&w->relief, mesh_of(w, recipe), threads, err);
    code = code ? code
                : sources_find(found, known, &w->frame->luminance, &w->relief, &w->p, w->most,
                               threads, err);
    *sky = w->relief.sky.typical_level;
    /* Of a single pixel, as far as the noise of neighbours is independent. */
    *noise = w->relief.sky.typical_noise * sqrt(4 * PI) * profile_width(&w->p);
    return code;
}

/* A list of the sources, which come out in another order. */
static int make_list(struct star_list *list, const struct star_work *w, struct sources *found,
                     const struct recipe *recipe, int most, struct error *err)
{
    list->raw_count = found->raw_count;
    int code =
        sift_sources(found->source, found->count, &w->p, recipe->widest, recipe->keep_hot, err);
    return code ? code
                : list_stars(list, found->source, found->count, w->frame->luminance.bin, most,
                             recipe->keep_hot, err);
}

/* The plain recipe comes first, whichever is wanted: a recipe with the same mesh has its sources,
 * and others begin with its sky and its places. */
static int find_stars(struct star_list *list, struct star_work *w, const struct recipe *recipe,
                      int most, int threads, struct error *err)
{
    const struct recipe *plain = &recipes[DETECT_PLAIN];
    struct sources other = {0}, *found = &w->sources;
    int code = 0;
    if (w->most != most * MEASURED) {
        sources_free(&w->sources);
        w->most = most * MEASURED;
        code = find_sources(&w->sources, &w->sky, &w->noise, w, plain, NULL, threads, err);
    }
    list->sky = w->sky;
    list->sky_noise = w->noise;
    if (!code && mesh_of(w, recipe) != mesh_of(w, plain)) {
        found = &other;
        code =
            find_sources(found, &list->sky, &list->sky_noise, w, recipe, &w->sources, threads, err);
    }
    code = code ? code : make_list(list, w, found, recipe, most, err);
    sources_free(&other);
    return code;
}

int star_finder_list(struct star_list *list, struct star_finder *finder, const struct frame *frame,
                     const struct detect_options *options, struct error *err)
{
    const struct plane *plane = &frame->luminance;
    const struct detect_options usual = {0};
    options = options ? options : &usual;
    *list = (struct star_list){.width = frame->width, .height = frame->height};
    if (!plane->value || plane->width < LEAST_SIDE || plane->height < LEAST_SIDE) {
        return 0;
    }
    int code = 0, most = options->max_stars > 0 ? options->max_stars : MAX_STARS;
    if (!finder->work) {
        finder->work = calloc(1, sizeof *finder->work);
        code = finder->work ? start(finder->work, frame, options->threads, err) : error_memory(err);
    }
    if (!code) {
        code =
            find_stars(list, finder->work, &recipes[options->recipe], most, options->threads, err);
    }
    if (code) {
        star_list_free(list);
        star_finder_free(finder);
    }
    return code;
}

void star_finder_free(struct star_finder *finder)
{
    if (finder->work) {
        relief_free(&finder->work->relief);
        sources_free(&finder->work->sources);
    }
    free(finder->work);
    finder->work = NULL;
}

int stars_detect(struct star_list *list, const struct frame *frame,
                 const struct detect_options *options, struct error *err)
{
    struct star_finder finder = {0};
    int code = star_finder_list(list, &finder, frame, options, err);
    star_finder_free(&finder);
    return code;
}

void star_list_free(struct star_list *list)
{
    free(list->star);
    memset(list, 0, sizeof *list);
}
