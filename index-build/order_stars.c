#include "order_stars.h"

#include "sky/vector.h"

#include <chealpix.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { THIN_SIDE = 64, THIN_CELLS = 12 * THIN_SIDE * THIN_SIDE, THIN_BINS = 256 };

void order_star_vector(double v[3], const struct catalogue_star *star)
{
    const struct index_star same = {.place = {star->place[0], star->place[1]}};
    index_star_vector(v, &same);
}

static long star_cell(const struct catalogue_star *star, long side)
{
    double v[3];
    long pixel;
    order_star_vector(v, star);
    vec2pix_nest(side, v, &pixel);
    return pixel;
}

/* Magnitudes -2 to 24 in steps of 0.1 are told apart when thinning. */
static int magnitude_bin(int mag)
{
    int bin = (mag + 2000) / 100;
    return bin < 0 ? 0 : bin >= THIN_BINS ? THIN_BINS - 1 : bin;
}

static void drop_fainter(struct catalogue *catalogue, double faintest)
{
    long kept = 0;
    for (long i = 0; i < catalogue->count; i++) {
        if (!(catalogue->star[i].mag > faintest * 1000)) {
            catalogue->star[kept++] = catalogue->star[i];
        }
    }
    catalogue->count = kept;
}

/* Stars of the cells that have more than they may: a histogram of magnitudes each. */
struct crowds {
    uint32_t *stars; /* of each cell, then the number of its histogram, from 1; 0: it has none */
    uint32_t *histogram;
    unsigned char *limit; /* for each cell the first magnitude bin that no longer fits */
};

static bool crowds_make(struct crowds *c, struct catalogue *catalogue, double per_cell)
{
    uint32_t crowded = 0;
    c->stars = calloc(THIN_CELLS, sizeof *c->stars);
    c->limit = malloc(THIN_CELLS);
    for (long i = 0; c->stars && i < catalogue->count; i++) {
        struct catalogue_star *star = &catalogue->star[i];
        star->key = (uint32_t)star_cell(star, THIN_SIDE);
        c->stars[star->key]++;
    }
    for (long cell = 0; c->stars && cell < THIN_CELLS; cell++) {
        c->stars[cell] = c->stars[cell] > per_cell ? ++crowded : 0;
    }
    c->histogram = calloc(((size_t)crowded + 1) * THIN_BINS, sizeof *c->histogram);
    return c->stars && c->limit && c->histogram;
}

static void crowds_free(struct crowds *c)
{
    free(c->stars);
    free(c->histogram);
    free(c->limit);
}

static void find_limits(struct crowds *c, double per_cell)
{
    for (long cell = 0; cell < THIN_CELLS; cell++) {
        const uint32_t *histogram = c->histogram + (size_t)c->stars[cell] * THIN_BINS;
        double sum = 0;
        int bin = c->stars[cell] ? 0 : THIN_BINS - 1;
        while (bin < THIN_BINS - 1 && sum + histogram[bin] <= per_cell) {
            sum += histogram[bin];
            bin++;
        }
        c->limit[cell] = (unsigned char)bin;
    }
}

int order_thin(struct catalogue *catalogue, double faintest, double density, struct error *err)
{
    drop_fainter(catalogue, faintest);
    double per_cell = density * 41252.96 / THIN_CELLS;
    if ((double)catalogue->count <= per_cell) {
        return 0;
    }
    struct crowds crowds = {0};
    if (!crowds_make(&crowds, catalogue, per_cell)) {
        crowds_free(&crowds);
        return error_memory(err);
    }
    for (long i = 0; i < catalogue->count; i++) {
        const struct catalogue_star *star = &catalogue->star[i];
        size_t histogram = crowds.stars[star->key];
        crowds.histogram[histogram * THIN_BINS + (size_t)magnitude_bin(star->mag)]++;
    }
    find_limits(&crowds, per_cell);
    long kept = 0;
    for (long i = 0; i < catalogue->count; i++) {
        const struct catalogue_star *star = &catalogue->star[i];
        if (magnitude_bin(star->mag) < crowds.limit[star->key]) {
            catalogue->star[kept++] = *star;
        }
    }
    catalogue->count = kept;
    crowds_free(&crowds);
    return 0;
}

static int compare_int(int a, int b)
{
    return (a > b) - (a < b);
}

static int compare_brightness(const void *left, const void *right)
{
    const struct catalogue_star *a = left, *b = right;
    int c = compare_int(a->mag, b->mag);
    c = c ? c : (a->id > b->id) - (a->id < b->id);
    for (int i = 0; i < 2 && !c; i++) {
        c = compare_int(a->place[i], b->place[i]);
    }
    return c ? c : compare_int(a->colour, b->colour);
}

enum { DIGITS = 256, FEW = 24 };

/* For few stars, of which most may have keys of their own. */
static void sort_few(struct catalogue_star *star, long count)
{
    for (long i = 1; i < count; i++) {
        struct catalogue_star moved = star[i];
        long place = i;
        while (place > 0 && (star[place - 1].key > moved.key ||
                             (star[place - 1].key == moved.key &&
                              compare_brightness(&star[place - 1], &moved) > 0))) {
            star[place] = star[place - 1];
            place--;
        }
        star[place] = moved;
    }
}

/* Puts stars in order of one byte of their keys, in place (McIlroy et al. 1993, Computing Systems
 * 6, 5). end gets where each digit's stars end. */
static void deal_by_digit(long end[DIGITS], struct catalogue_star *star, long count, int shift)
{
    long next[DIGITS], sum = 0;
    memset(end, 0, DIGITS * sizeof *end);
    for (long i = 0; i < count; i++) {
        end[star[i].key >> shift & (DIGITS - 1)]++;
    }
    for (int digit = 0; digit < DIGITS; digit++) {
        next[digit] = sum;
        sum = end[digit] += sum;
    }
    for (int digit = 0; digit < DIGITS; digit++) {
        while (next[digit] < end[digit]) {
            struct catalogue_star moved = star[next[digit]];
            int other = (int)(moved.key >> shift & (DIGITS - 1));
            if (other != digit) {
                star[next[digit]] = star[next[other]];
                star[next[other]] = moved;
            }
            next[other]++;
        }
    }
}

/* By key, then by brightness and the rest. */
static void sort_by_key(struct catalogue_star *star, long count, int shift)
{
    long end[DIGITS];
    if (count <= FEW) {
        sort_few(star, count);
        return;
    }
    if (shift < 0) {
        qsort(star, (size_t)count, sizeof *star, compare_brightness);
        return;
    }
    deal_by_digit(end, star, count, shift);
    for (int digit = 0; digit < DIGITS; digit++) {
        long first = digit ? end[digit - 1] : 0;
        sort_by_key(star + first, end[digit] - first, shift - 8);
    }
}

/* The cells that are counted hold some eight stars each. */
double order_share_of_sky(const struct catalogue *catalogue)
{
    enum { DEEPEST = 6 };
    static const double whole = 0.9;
    static const long cells_at_deepest = 12L << (2 * DEEPEST);
    bool met[12 << (2 * DEEPEST)] = {false};
    int level = 0;
    long found = 0;
    while (level < DEEPEST && (12L << (2 * level + 2)) * 8 <= catalogue->count) {
        level++;
    }
    for (long i = 0; i < catalogue->count; i++) {
        met[star_cell(&catalogue->star[i], 1L << level)] = true;
    }
    for (long i = 0; i < cells_at_deepest; i++) {
        found += met[i];
    }
    double share = (double)(found > 0 ? found : 1) / (double)(12L << (2 * level));
    return share > whole ? 1 : share;
}

static long room_of_level(int level, double share_of_sky)
{
    return (long)ceil((double)(48L << (2 * level)) * share_of_sky);
}

/* Deals the stars, which are in order of brightness, to levels. What would fill no more than a
 * quarter of a level, a cell for nearly each star, stays in the one above. Returns how many levels
 * there are; end gets where each one's stars end. */
static int deal_to_levels(long end[INDEX_MAX_LEVELS], long stars, double share_of_sky)
{
    long sum = 0;
    for (int level = 0;; level++) {
        sum += room_of_level(level, share_of_sky);
        if (level == INDEX_MAX_LEVELS - 1 ||
            stars - sum <= room_of_level(level + 1, share_of_sky) / 4) {
            end[level] = stars;
            return level + 1;
        }
        end[level] = sum;
    }
}

/* Numbers of the cells of one level that have stars, rising. */
struct level_cells {
    uint32_t *pixel;
    long count;
};

/* Cells of a level: those of its stars and those around the cells of the next. */
static int list_cells(struct level_cells *cells, const struct catalogue_star *star, long stars,
                      const struct level_cells *next)
{
    long a = 0, b = 0, below = next ? next->count : 0;
    cells->pixel = malloc((size_t)(stars + below + 1) * sizeof *cells->pixel);
    if (!cells->pixel) {
        return ERROR_MEMORY;
    }
    while (a < stars || b < below) {
        uint32_t own = a < stars ? star[a].key : UINT32_MAX;
        uint32_t around = b < below ? next->pixel[b] >> 2 : UINT32_MAX;
        uint32_t pixel = own < around ? own : around;
        cells->pixel[cells->count++] = pixel;
        while (a < stars && star[a].key == pixel) {
            a++;
        }
        while (b < below && next->pixel[b] >> 2 == pixel) {
            b++;
        }
    }
    uint32_t *fitting = realloc(cells->pixel, (size_t)cells->count * sizeof *fitting);
    cells->pixel = fitting ? fitting : cells->pixel;
    return 0;
}

static void set_centre(struct index_cell *cell, int level, uint32_t pixel)
{
    double v[3], place[2];
    pix2vec_nest(1L << level, (long)pixel, v);
    octahedron_fold(place, v);
    for (int i = 0; i < 2; i++) {
        cell->centre[i] = (int16_t)lrint(place[i] * 32767);
    }
}

static void fill_level(struct index_cell *records, const struct index *index, int level,
                       const struct level_cells *cells, const struct catalogue_star *star,
                       const long bounds[2])
{
    const struct level_cells *next = level + 1 < index->levels ? &cells[1] : NULL;
    long place = bounds[0], part = 0;
    for (long i = 0; i < cells->count; i++) {
        struct index_cell *cell = &records[index->level[level] + (uint32_t)i];
        set_centre(cell, level, cells->pixel[i]);
        cell->first_star = (uint32_t)place;
        cell->first_part = next ? index->level[level + 1] + (uint32_t)part : 0;
        while (place < bounds[1] && star[place].key == cells->pixel[i]) {
            place++;
        }
        while (next && part < next->count && next->pixel[part] >> 2 == cells->pixel[i]) {
            part++;
        }
    }
}

static int make_cells(struct index_cell **out, struct index *index, struct level_cells *cells,
                      const struct catalogue *catalogue, const long *end)
{
    for (int level = index->levels - 1; level >= 0; level--) {
        long first = level ? end[level - 1] : 0;
        if (list_cells(&cells[level], catalogue->star + first, end[level] - first,
                       level + 1 < index->levels ? &cells[level + 1] : NULL)) {
            return ERROR_MEMORY;
        }
    }
    for (int level = 0; level < index->levels; level++) {
        index->level[level + 1] = index->level[level] + (uint32_t)cells[level].count;
    }
    uint32_t count = index->level[index->levels];
    struct index_cell *records = calloc((size_t)count + 1, sizeof *records);
    if (!records) {
        return ERROR_MEMORY;
    }
    for (int level = 0; level < index->levels; level++) {
        const long bounds[2] = {level ? end[level - 1] : 0, end[level]};
        fill_level(records, index, level, &cells[level], catalogue->star, bounds);
    }
    records[count].first_star = (uint32_t)catalogue->count;
    *out = records;
    return 0;
}

int order_stars(struct index_cell **cells, struct index *index, struct catalogue *catalogue,
                double share_of_sky, struct error *err)
{
    long end[INDEX_MAX_LEVELS] = {0}, first = 0;
    struct level_cells level_cells[INDEX_MAX_LEVELS] = {{0}};
    for (long i = 0; i < catalogue->count; i++) {
        catalogue->star[i].key = (uint32_t)(catalogue->star[i].mag - INT16_MIN);
    }
    sort_by_key(catalogue->star, catalogue->count, 8);
    index->levels = deal_to_levels(end, catalogue->count, share_of_sky);
    for (int level = 0; level < index->levels; level++) {
        for (long i = first; i < end[level]; i++) {
            catalogue->star[i].key = (uint32_t)star_cell(&catalogue->star[i], 1L << level);
        }
        sort_by_key(catalogue->star + first, end[level] - first, 24);
        first = end[level];
    }
    int code = make_cells(cells, index, level_cells, catalogue, end);
    for (int level = 0; level < index->levels; level++) {
        free(level_cells[level].pixel);
    }
    return code ? error_memory(err) : 0;
}
