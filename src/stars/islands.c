#include "stars/islands.h"

#include "base/parallel.h"

#include <limits.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

/* Pixels of a row that lie side by side above the shore. */
struct run {
    int row, first, end;
    int root;     /* a run of the same island further up; itself if there is none */
    size_t level; /* where its levels are */
};

struct runs {
    struct run *run;
    int count, capacity;
    float *level;
    size_t levels, level_capacity;
};

static void runs_free(struct runs *runs)
{
    free(runs->run);
    free(runs->level);
}

static bool make_room(struct runs *runs, size_t more_levels)
{
    if (runs->count == runs->capacity) {
        int capacity = runs->capacity ? 2 * runs->capacity : 1024;
        struct run *grown = realloc(runs->run, (size_t)capacity * sizeof *grown);
        if (!grown) {
            return false;
        }
        runs->run = grown;
        runs->capacity = capacity;
    }
    if (runs->levels + more_levels > runs->level_capacity) {
        size_t capacity = 2 * runs->level_capacity + more_levels + 4096;
        float *grown = realloc(runs->level, capacity * sizeof *grown);
        if (!grown) {
            return false;
        }
        runs->level = grown;
        runs->level_capacity = capacity;
    }
    return true;
}

static bool add_run(struct runs *runs, const float *level, int row, int first, int end)
{
    size_t n = (size_t)(end - first);
    if (!make_room(runs, n)) {
        return false;
    }
    memcpy(runs->level + runs->levels, level + first, n * sizeof *level);
    runs->run[runs->count++] = (struct run){row, first, end, 0, runs->levels};
    runs->levels += n;
    return true;
}

/* Where the runs of some rows go. */
struct run_list {
    struct runs *runs;
    float shore;
};

static bool add_runs(const float *level, int y, int x, int end, void *context)
{
    struct run_list *list = context;
    bool good = true;
    while (x < end && good) {
        int first = x;
        while (x < end && level[x] >= list->shore) {
            x++;
        }
        good = x == first || add_run(list->runs, level, y, first, x);
        x++;
    }
    return good;
}

/* ---- rows in bands, side by side ---- */

enum { BAND = 64 };

struct sweep {
    struct relief_scan scan;
    float shore;
    struct runs *band;
    atomic_bool failed;
};

static void sweep_band(int item, void *context)
{
    struct sweep *s = context;
    const struct relief *r = s->scan.r;
    int end = (item + 1) * BAND < r->height ? (item + 1) * BAND : r->height;
    float *level = malloc((size_t)r->width * sizeof *level);
    struct run_list list = {&s->band[item], s->shore};
    bool good = level != NULL;
    for (int y = item * BAND; good && y < end; y++) {
        good = relief_scan_row(level, &s->scan, y, add_runs, &list);
    }
    free(level);
    if (!good) {
        atomic_store(&s->failed, true);
    }
}

/* Puts the runs of all bands one after the other. */
static bool append(struct runs *all, const struct runs *band, int bands)
{
    size_t count = 0, levels = 0;
    for (int i = 0; i < bands; i++) {
        count += (size_t)band[i].count;
        levels += band[i].levels;
    }
    all->run = malloc((count + 1) * sizeof *all->run);
    all->level = malloc((levels + 1) * sizeof *all->level);
    if (!all->run || !all->level || count > INT_MAX) {
        return false;
    }
    for (int i = 0; i < bands; i++) {
        for (int k = 0; k < band[i].count; k++) {
            struct run *to = &all->run[all->count];
            *to = band[i].run[k];
            to->root = all->count++;
            to->level += all->levels;
        }
        if (band[i].levels > 0) {
            memcpy(all->level + all->levels, band[i].level, band[i].levels * sizeof *all->level);
            all->levels += band[i].levels;
        }
    }
    return true;
}

static int find_runs(struct runs *all, const struct relief *r, float shore, int threads,
                     struct error *err)
{
    int bands = (r->height + BAND - 1) / BAND;
    struct sweep s = {.shore = shore, .band = calloc((size_t)bands, sizeof *s.band)};
    int code = s.band ? relief_scan_start(&s.scan, r, shore, err) : error_memory(err);
    atomic_init(&s.failed, false);
    if (!code) {
        parallel_each(bands, threads, sweep_band, &s);
        code = !atomic_load(&s.failed) && append(all, s.band, bands) ? 0 : error_memory(err);
    }
    for (int i = 0; s.band && i < bands; i++) {
        runs_free(&s.band[i]);
    }
    free(s.band);
    relief_scan_free(&s.scan);
    return code;
}

/* ---- runs that touch are an island ---- */

static int root_of(struct run *run, int i)
{
    while (run[i].root != i) {
        run[i].root = run[run[i].root].root;
        i = run[i].root;
    }
    return i;
}

/* The earlier of two roots stays one, so that islands are in the order of their first pixels. */
static void join(struct run *run, int a, int b)
{
    a = root_of(run, a);
    b = root_of(run, b);
    run[a > b ? a : b].root = a > b ? b : a;
}

/* Joins runs of neighbouring rows that touch, by a corner at least. */
static void join_runs(struct runs *runs)
{
    struct run *run = runs->run;
    int above = 0;
    for (int i = 0; i < runs->count; i++) {
        while (run[above].row < run[i].row - 1 ||
               (run[above].row == run[i].row - 1 && run[above].end < run[i].first)) {
            above++;
        }
        for (int k = above; run[k].row == run[i].row - 1 && run[k].first <= run[i].end; k++) {
            join(run, k, i);
        }
    }
    for (int i = 0; i < runs->count; i++) {
        run[i].root = root_of(run, i);
    }
}

static struct island start_island(const struct run *run, const float *level, int width)
{
    return (struct island){.left = run->first,
                           .right = run->end - 1,
                           .upper = run->row,
                           .lower = run->row,
                           .peak = run->row * width + run->first,
                           .height = level[run->level]};
}

static void add_to_island(struct island *island, const struct run *run, const float *level,
                          int width)
{
    int start = run->row * width;
    const float *here = level + run->level;
    island->left = run->first < island->left ? run->first : island->left;
    island->right = run->end - 1 > island->right ? run->end - 1 : island->right;
    island->lower = run->row;
    island->pixels += run->end - run->first;
    for (int i = 0; i < run->end - run->first; i++) {
        island->flux += (double)here[i];
        if (here[i] > island->height) {
            island->height = here[i];
            island->peak = start + run->first + i;
        }
    }
}

/* place: for each run, room for the number of its island. Fills found->island of all islands. */
static void survey(struct islands *found, int *place, const struct runs *runs, int width)
{
    for (int i = 0; i < runs->count; i++) {
        const struct run *run = &runs->run[i];
        if (run->root == i) {
            place[i] = (int)found->count;
            found->island[found->count++] = start_island(run, runs->level, width);
        }
        place[i] = place[run->root];
        add_to_island(&found->island[place[i]], run, runs->level, width);
    }
}

/* Keeps what may be a star, and tells each where its pixels go; place of the others is -1. */
static void choose(struct islands *found, int *place, const struct runs *runs, float peak,
                   int least_area, int *kept_as)
{
    size_t kept = 0;
    for (size_t i = 0; i < found->count; i++) {
        struct island *island = &found->island[i];
        bool good = island->height >= peak && island->pixels >= least_area;
        kept_as[i] = good ? (int)kept : -1;
        if (good) {
            island->first = found->pixels;
            found->pixels += (size_t)island->pixels;
            found->island[kept++] = *island;
        }
    }
    found->count = kept;
    for (int i = 0; i < runs->count; i++) {
        place[i] = kept_as[place[i]];
    }
}

static void list_pixels(struct islands *found, const int *place, const struct runs *runs, int width)
{
    for (size_t i = 0; i < found->count; i++) {
        found->island[i].pixels = 0;
    }
    for (int i = 0; i < runs->count; i++) {
        const struct run *run = &runs->run[i];
        if (place[i] >= 0) {
            struct island *island = &found->island[place[i]];
            size_t to = island->first + (size_t)island->pixels;
            int n = run->end - run->first, at = run->row * width + run->first;
            memcpy(found->level + to, runs->level + run->level, (size_t)n * sizeof *found->level);
            for (int k = 0; k < n; k++) {
                found->pixel[to + (size_t)k] = at + k;
            }
            island->pixels += n;
        }
    }
}

static int gather(struct islands *found, struct runs *runs, int width, float peak, int least_area,
                  struct error *err)
{
    size_t n = (size_t)runs->count + 1;
    int *place = malloc(n * sizeof *place), *kept_as = malloc(n * sizeof *kept_as);
    found->island = malloc(n * sizeof *found->island);
    int code = place && kept_as && found->island ? 0 : error_memory(err);
    if (!code) {
        join_runs(runs);
        survey(found, place, runs, width);
        choose(found, place, runs, peak, least_area, kept_as);
        found->pixel = malloc((found->pixels + 1) * sizeof *found->pixel);
        found->level = malloc((found->pixels + 1) * sizeof *found->level);
        code = found->pixel && found->level ? 0 : error_memory(err);
    }
    if (!code) {
        list_pixels(found, place, runs, width);
    }
    free(place);
    free(kept_as);
    return code;
}

int islands_find(struct islands *found, const struct relief *r, float shore, float peak,
                 int least_area, int threads, struct error *err)
{
    memset(found, 0, sizeof *found);
    struct runs runs = {0};
    int code = find_runs(&runs, r, shore, threads, err);
    code = code ? code : gather(found, &runs, r->width, peak, least_area, err);
    runs_free(&runs);
    if (code) {
        islands_free(found);
    }
    return code;
}

void islands_free(struct islands *found)
{
    free(found->pixel);
    free(found->level);
    free(found->island);
    memset(found, 0, sizeof *found);
}
