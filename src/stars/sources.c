#include "stars/sources.h"

#include "base/elementary.h"
#include "base/median.h"
#include "base/parallel.h"
#include "base/units.h"
#include "stars/islands.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DETECTION 3.95 /* least height of a star in the relief */
#define CROWDED 0.08   /* share of pixels above the isophote at which it is raised */

enum { SAMPLES = 5000, BATCH = 128 /* sources that a thread takes at a time */ };

/* The isophote, or the level above it that leaves few enough pixels for deblending to stay quick in
 * pictures that are all texture. ERROR_MEMORY only. */
static int choose_isophote(double *isophote, const struct relief *r, struct error *err)
{
    size_t n = (size_t)r->width * (size_t)r->height, step = n / SAMPLES + 1;
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
    double area = 2 * PI * width * width * elementary_log(DETECTION / MEASURE_ISOPHOTE);
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

/* Those that may be worth listing, in the order of their islands. */
static void choose(struct sources *sources, const struct islands *found, double least, int width)
{
    for (size_t i = 0; i < found->count; i++) {
        const struct island *island = &found->island[i];
        if ((double)island->height >= DETECTION && island->flux >= least) {
            fill_source(&sources->source[sources->count++], found, i, width);
        }
    }
}

struct measuring {
    struct sources *sources;
    const struct plane *plane;
    const struct relief *r;
    const struct profile *p;
};

static void measure_batch(int item, void *context)
{
    const struct measuring *m = context;
    int end = (item + 1) * BATCH < m->sources->count ? (item + 1) * BATCH : m->sources->count;
    for (int i = item * BATCH; i < end; i++) {
        struct source *s = &m->sources->source[i];
        measure_surround(s, m->r, m->p);
        if (s->height >= DETECTION) {
            measure_source(s, m->plane, m->r, m->p);
        }
    }
}

/* Before a nebula or beside others a source may be less high than it seemed. */
static void keep_high(struct sources *sources)
{
    int kept = 0;
    for (int i = 0; i < sources->count; i++) {
        struct source *s = &sources->source[i];
        if (s->height >= DETECTION) {
            s->pixel = NULL;
            s->level = NULL;
            sources->source[kept++] = *s;
        }
    }
    sources->count = kept;
}

static int measure_all(struct sources *sources, const struct islands *found,
                       const struct measuring *how, int most, int threads, struct error *err)
{
    double *scratch = malloc((found->count + 1) * sizeof *scratch);
    sources->source = malloc((found->count + 1) * sizeof *sources->source);
    sources->raw_count = (int)found->count;
    if (!sources->source || !scratch) {
        free(scratch);
        return error_memory(err);
    }
    choose(sources, found, least_flux(found, most, scratch), how->r->width);
    free(scratch);
    struct measuring work = *how;
    parallel_each((sources->count + BATCH - 1) / BATCH, threads, measure_batch, &work);
    keep_high(sources);
    return 0;
}

int sources_find(struct sources *sources, const struct plane *plane, const struct relief *r,
                 const struct profile *p, int most, int threads, struct error *err)
{
    struct islands found = {0};
    const struct measuring how = {sources, plane, r, p};
    double isophote = MEASURE_ISOPHOTE;
    memset(sources, 0, sizeof *sources);
    int code = choose_isophote(&isophote, r, err);
    if (!code) {
        code =
            islands_find(&found, r, (float)isophote, (float)DETECTION, least_area(p), threads, err);
    }
    if (!code) {
        code = islands_part(&found, r->width, least_area(p), err);
    }
    if (!code) {
        code = measure_all(sources, &found, &how, most, threads, err);
    }
    islands_free(&found);
    if (code) {
        sources_free(sources);
    }
    return code;
}

void sources_free(struct sources *found)
{
    free(found->source);
    memset(found, 0, sizeof *found);
}
