#include "stars/islands.h"

#include <stdlib.h>
#include <string.h>

/* Pixels of a row that lie side by side above the shore. */
struct run {
    int row, first, end;
    int root; /* a run of the same island further up; itself if there is none */
};

struct runs {
    struct run *run;
    int count, capacity;
};

static bool add_run(struct runs *runs, int row, int first, int end)
{
    if (runs->count == runs->capacity) {
        int capacity = runs->capacity ? 2 * runs->capacity : 4096;
        struct run *grown = realloc(runs->run, (size_t)capacity * sizeof *grown);
        if (!grown) {
            return false;
        }
        runs->run = grown;
        runs->capacity = capacity;
    }
    runs->run[runs->count] = (struct run){row, first, end, runs->count};
    runs->count++;
    return true;
}

/* Most pixels lie below: they are passed over by the block. */
enum { BLOCK = 32 };

static bool reaches(const float *level, float limit)
{
    int reached = 0;
    for (int i = 0; i < BLOCK; i++) {
        reached |= level[i] >= limit;
    }
    return reached;
}

static bool add_runs_of_row(struct runs *runs, const float *level, int width, int row, float shore)
{
    bool good = true;
    int x = 0;
    while (x < width && good) {
        if (x + BLOCK <= width && !reaches(level + x, shore)) {
            x += BLOCK;
            continue;
        }
        int end = x + BLOCK < width ? x + BLOCK : width;
        while (x < end && good) {
            int first = x;
            while (x < width && level[x] >= shore) {
                x++;
            }
            good = x == first || add_run(runs, row, first, x);
            x++;
        }
    }
    return good;
}

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

static struct island start_island(const struct run *run, const struct relief *r)
{
    int at = run->row * r->width + run->first;
    return (struct island){.left = run->first,
                           .right = run->end - 1,
                           .upper = run->row,
                           .lower = run->row,
                           .peak = at,
                           .height = r->level[at]};
}

static void add_to_island(struct island *island, const struct run *run, const struct relief *r)
{
    int start = run->row * r->width;
    island->left = run->first < island->left ? run->first : island->left;
    island->right = run->end - 1 > island->right ? run->end - 1 : island->right;
    island->lower = run->row;
    island->pixels += run->end - run->first;
    for (int at = start + run->first; at < start + run->end; at++) {
        island->flux += (double)r->level[at];
        if (r->level[at] > island->height) {
            island->height = r->level[at];
            island->peak = at;
        }
    }
}

/* place: for each run, room for the number of its island. Fills found->island of all islands. */
static void survey(struct islands *found, int *place, const struct runs *runs,
                   const struct relief *r)
{
    for (int i = 0; i < runs->count; i++) {
        const struct run *run = &runs->run[i];
        if (run->root == i) {
            place[i] = (int)found->count;
            found->island[found->count++] = start_island(run, r);
        }
        place[i] = place[run->root];
        add_to_island(&found->island[place[i]], run, r);
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
            int *to = found->pixel + island->first + island->pixels;
            for (int x = run->first; x < run->end; x++) {
                *to++ = run->row * width + x;
            }
            island->pixels += run->end - run->first;
        }
    }
}

static int gather(struct islands *found, struct runs *runs, const struct relief *r, float peak,
                  int least_area, struct error *err)
{
    size_t n = (size_t)runs->count + 1;
    int *place = malloc(n * sizeof *place), *kept_as = malloc(n * sizeof *kept_as);
    found->island = malloc(n * sizeof *found->island);
    int code = place && kept_as && found->island ? 0 : error_memory(err);
    if (!code) {
        join_runs(runs);
        survey(found, place, runs, r);
        choose(found, place, runs, peak, least_area, kept_as);
        found->pixel = malloc((found->pixels + 1) * sizeof *found->pixel);
        code = found->pixel ? 0 : error_memory(err);
    }
    if (!code) {
        list_pixels(found, place, runs, r->width);
    }
    free(place);
    free(kept_as);
    return code;
}

int islands_find(struct islands *found, const struct relief *r, float shore, float peak,
                 int least_area, struct error *err)
{
    memset(found, 0, sizeof *found);
    struct runs runs = {0};
    bool good = true;
    for (int y = 0; good && y < r->height; y++) {
        const float *row = r->level + (size_t)y * (size_t)r->width;
        good = add_runs_of_row(&runs, row, r->width, y, shore);
    }
    int code = good ? gather(found, &runs, r, peak, least_area, err) : error_memory(err);
    free(runs.run);
    if (code) {
        islands_free(found);
    }
    return code;
}

void islands_free(struct islands *found)
{
    free(found->pixel);
    free(found->island);
    memset(found, 0, sizeof *found);
}
