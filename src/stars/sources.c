#include "stars/sources.h"

#include "base/elementary.h"
#include "base/median.h"
#include "base/parallel.h"
#include "base/prefetch.h"
#include "base/units.h"
#include "stars/islands.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DETECTION 3.95 /* least height of a star in the relief */
#define CROWDED 0.08   /* share of pixels above the isophote at which it is raised */

enum { SAMPLES = 5000, SAMPLES_AHEAD = 8, BATCH = 128 /* sources that a thread takes at a time */ };

/* Of a source that will be measured: how many later, rows and columns around it, most rows. */
enum { AHEAD = 3, AROUND = 4, MOST_AHEAD = 24 };

/* The isophote, or the level above it that leaves few enough pixels for deblending to stay quick in
 * pictures that are all texture. ERROR_MEMORY only. */
static int choose_isophote(double *isophote, const struct relief *r, struct error *err)
{
    size_t n = (size_t)r->width * (size_t)r->height, step = n / SAMPLES + 1;
    double *sample = malloc((n / step + 1) * sizeof *sample);
    if (!sample) {
        return error_memory(err);
    }
    int m = 0, above = 0;
    for (size_t i = step / 2; i < n; i += step) {
        prefetch(r->smooth + i + SAMPLES_AHEAD * step);
        sample[m] = relief_level(r, (int)(i % (size_t)r->width), (int)(i / (size_t)r->width));
        above += sample[m++] > MEASURE_ISOPHOTE;
    }
    *isophote = MEASURE_ISOPHOTE;
    if (above + 1 >= CROWDED * m) { /* mostly not */
        *isophote = fmax(MEASURE_ISOPHOTE, median_quantile(sample, m, 1 - CROWDED));
    }
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

/* Sources by their peaks. The size is a power of two, at least twice their number. */
struct peak_table {
    const struct source *source; /* borrowed */
    int *number;                 /* of the source, from 1; 0: none */
    unsigned size;
};

static unsigned place_of(const struct peak_table *table, int x, int y)
{
    return ((unsigned)x * 2654435761U ^ (unsigned)y * 40503U) >> 7 & (table->size - 1);
}

static int make_table(struct peak_table *table, const struct sources *known, struct error *err)
{
    *table = (struct peak_table){.size = 2};
    if (!known) {
        return 0;
    }
    while (table->size < 2 * (unsigned)known->count) {
        table->size *= 2;
    }
    table->source = known->source;
    table->number = calloc(table->size, sizeof *table->number);
    if (!table->number) {
        return error_memory(err);
    }
    for (int i = 0; i < known->count; i++) {
        unsigned at = place_of(table, known->source[i].peak_x, known->source[i].peak_y);
        while (table->number[at]) {
            at = (at + 1) & (table->size - 1);
        }
        table->number[at] = i + 1;
    }
    return 0;
}

static const struct source *look_up(const struct peak_table *table, const struct source *s)
{
    if (!table->number) {
        return NULL;
    }
    unsigned at = place_of(table, s->peak_x, s->peak_y);
    for (; table->number[at]; at = (at + 1) & (table->size - 1)) {
        const struct source *other = &table->source[table->number[at] - 1];
        if (other->peak_x == s->peak_x && other->peak_y == s->peak_y) {
            return other;
        }
    }
    return NULL;
}

struct measuring {
    struct sources *sources;
    struct peak_table known;
    const struct plane *plane;
    const struct relief *r;
    const struct profile *p;
};

/* A star's pixels lie in as many places as it has rows. */
static void expect_source(const struct measuring *m, const struct source *s)
{
    size_t width = (size_t)m->plane->width;
    int upper = s->upper > AROUND ? s->upper - AROUND : 0;
    int lower = s->lower + AROUND < m->plane->height ? s->lower + AROUND : m->plane->height - 1;
    lower = lower < upper + MOST_AHEAD ? lower : upper + MOST_AHEAD;
    int left = s->left > AROUND ? s->left - AROUND : 0;
    int right = s->right + AROUND < m->plane->width ? s->right + AROUND : m->plane->width - 1;
    for (int y = upper; y <= lower; y++) {
        prefetch(m->plane->value + (size_t)y * width + left);
        prefetch(m->plane->value + (size_t)y * width + right);
        prefetch(m->r->smooth + (size_t)y * width + left);
        prefetch(m->r->smooth + (size_t)y * width + right);
    }
}

static void measure_batch(int item, void *context)
{
    const struct measuring *m = context;
    int end = (item + 1) * BATCH < m->sources->count ? (item + 1) * BATCH : m->sources->count;
    for (int i = item * BATCH; i < end; i++) {
        struct source *s = &m->sources->source[i];
        if (i + AHEAD < end) {
            expect_source(m, s + AHEAD);
        }
        measure_surround(s, m->r, m->p);
        if (s->height >= DETECTION) {
            measure_source(s, m->plane, m->r, m->p, look_up(&m->known, s));
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

int sources_find(struct sources *sources, const struct sources *known, const struct plane *plane,
                 const struct relief *r, const struct profile *p, int most, int threads,
                 struct error *err)
{
    struct islands found = {0};
    struct measuring how = {.sources = sources, .plane = plane, .r = r, .p = p};
    double isophote = MEASURE_ISOPHOTE;
    memset(sources, 0, sizeof *sources);
    int code = make_table(&how.known, known, err);
    code = code ? code : choose_isophote(&isophote, r, err);
    if (!code) {
        code =
            islands_find(&found, r, (float)isophote, (float)DETECTION, least_area(p), threads, err);
    }
    if (!code) {
        code = islands_part(&found, r->width, least_area(p), threads, err);
    }
    if (!code) {
        code = measure_all(sources, &found, &how, most, threads, err);
    }
    islands_free(&found);
    free(how.known.number);
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
