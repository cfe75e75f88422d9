#include "stars/islands.h"

#include "base/random.h"
#include "near.h"
#include "stars/smooth.h"

#include <check.h>
#include <math.h>
#include <sep.h>
#include <stdlib.h>
#include <string.h>

Suite *islands_suite(void);

enum { WIDTH = 12, HEIGHT = 6, MOST_BLOCKS = 10000 };

/* Levels as they are: a sky of 0 with a noise of 1 everywhere. */
static struct relief relief_of(float *level, int width, int height)
{
    static float sky = 0, per_noise = 1, highest[MOST_BLOCKS];
    int blocks = smooth_blocks(width);
    ck_assert_int_le(blocks * height, MOST_BLOCKS);
    for (int i = 0; i < blocks * height; i++) {
        highest[i] = -INFINITY;
    }
    for (int i = 0; i < width * height; i++) {
        float *of_block = &highest[i / width * blocks + i % width / SMOOTH_BLOCK];
        *of_block = fmaxf(*of_block, level[i]);
    }
    return (struct relief){.width = width,
                           .height = height,
                           .smooth = level,
                           .highest = highest,
                           .sky = {.columns = 1, .rows = 1, .cell = 1e6, .level = &sky},
                           .per_noise = &per_noise};
}

/* One digit for each pixel. */
static struct relief draw(float *level, const char *const rows[HEIGHT])
{
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        level[i] = (float)(rows[i / WIDTH][i % WIDTH] - '0');
    }
    return relief_of(level, WIDTH, HEIGHT);
}

/* Corners count as connected; the edges of the picture do not meet. */
START_TEST(finds_what_is_connected_and_high)
{
    static const char *const rows[HEIGHT] = {
        "200000000003", /* left: low; right: joined to the 5 below by a corner */
        "000002200050", "020002000000", "003000000000", "000600001252", "000000000000"};
    float level[WIDTH * HEIGHT];
    struct relief r = draw(level, rows);
    struct islands found;
    struct error err = {0};
    ck_assert_int_eq(islands_find(&found, &r, 2, 5, 2, 1, &err), 0);
    ck_assert_uint_eq(found.count, 3);
    const struct island *first = &found.island[0], *second = &found.island[1];
    ck_assert_int_eq(first->pixels, 2);
    ck_assert_int_eq(found.pixel[first->first], 11);
    ck_assert_int_eq(found.pixel[first->first + 1], 22);
    ck_assert_int_eq(first->peak, 22);
    ck_assert_int_eq(second->pixels, 3);
    ck_assert_int_eq(second->left, 1);
    ck_assert_int_eq(second->right, 3);
    ck_assert_int_eq(second->upper, 2);
    ck_assert_int_eq(second->lower, 4);
    assert_near(second->flux, 11, 0, "noises");
    ck_assert_int_eq(found.island[2].pixels, 3);
    islands_free(&found);
    ck_assert_int_eq(islands_find(&found, &r, 2, 5, 3, 1, &err), 0);
    ck_assert_uint_eq(found.count, 2);
    islands_free(&found);
}
END_TEST

enum { SIDE = 200, PIXELS = SIDE * SIDE };

/* No pixel that reaches a level is passed over, whatever lies under it: sky and noise that differ
 * from node to node, gaps, and levels that are met exactly. */
static bool keep_levels(const float *level, int y, int first, int end, void *context)
{
    float *seen = context;
    memcpy(seen + y * SIDE + first, level + first, (size_t)(end - first) * sizeof *seen);
    return true;
}

/* What is not looked at stays minus infinity. */
static void look_through(float *seen, const struct relief *r, float least)
{
    static float row[SIDE];
    struct relief_scan scan;
    struct error err = {0};
    for (int i = 0; i < PIXELS; i++) {
        seen[i] = -INFINITY;
    }
    ck_assert_int_eq(relief_scan_start(&scan, r, least, &err), 0);
    for (int y = 0; y < SIDE; y++) {
        ck_assert(relief_scan_row(row, &scan, y, keep_levels, seen));
    }
    relief_scan_free(&scan);
}

START_TEST(passes_over_sky_alone)
{
    enum { CELL = 23, NODES = (SIDE + CELL - 1) / CELL };
    static float level[PIXELS], seen[PIXELS], all[PIXELS];
    struct random random = {5};
    float sky[NODES * NODES], per_noise[NODES * NODES];
    for (int round = 0; round < 20; round++) {
        float least = 3.5F + (float)round / 20;
        double high = pow(10, round - 5), rise = 0.01 * high * random_between(&random, 0, 1);
        for (int i = 0; i < NODES * NODES; i++) {
            sky[i] = (float)(high + rise * random_normal(&random));
            per_noise[i] = (float)(1 / (0.01 * high * random_between(&random, 0.8, 1.2)));
        }
        struct background b = {.columns = NODES, .rows = NODES, .cell = CELL, .level = sky};
        for (int i = 0; i < PIXELS; i++) {
            double noise = 0.01 * high * random_normal(&random);
            level[i] = (float)(background_level(&b, i % SIDE, i / SIDE) + noise);
            level[i] = random_uniform(&random) < 0.01 ? NAN : level[i];
        }
        struct relief r = relief_of(level, SIDE, SIDE);
        r.sky = b;
        r.per_noise = per_noise;
        look_through(all, &r, -1e30F);
        look_through(seen, &r, least);
        int passed_over = 0;
        for (int i = 0; i < PIXELS; i++) {
            bool looked = !(seen[i] < -1e30F);
            ck_assert(looked || !(all[i] >= least));
            ck_assert(!looked || memcmp(&seen[i], &all[i], sizeof *all) == 0);
            passed_over += !looked;
            /* Floats round a sky of a hundred noises to 1e-5 of one. */
            if (!isnan(level[i])) {
                assert_near((double)all[i], relief_level(&r, i % SIDE, i / SIDE), 1e-3, "noises");
            }
        }
        ck_assert_int_gt(passed_over, PIXELS / 20);
    }
}
END_TEST

/* Noise of a width, in units of its own deviation, and some stars in it. */
static struct relief make_relief(float *level, uint64_t seed, int stars, double sigma)
{
    struct random random = {seed};
    static float raw[PIXELS];
    for (int i = 0; i < PIXELS; i++) {
        raw[i] = (float)random_normal(&random);
        level[i] = 0;
    }
    for (int i = 0; i < PIXELS; i++) {
        for (int k = 0; k < 9; k++) {
            int x = i % SIDE + k % 3 - 1, y = i / SIDE + k / 3 - 1;
            if (x >= 0 && y >= 0 && x < SIDE && y < SIDE) {
                level[i] += raw[y * SIDE + x] / 3;
            }
        }
    }
    for (int n = 0; n < stars; n++) {
        double x = random_between(&random, 0, SIDE), y = random_between(&random, 0, SIDE);
        double height = 4 * pow(100, random_uniform(&random));
        for (int i = 0; i < PIXELS; i++) {
            double dx = i % SIDE - x, dy = i / SIDE - y;
            level[i] += (float)(height * exp(-(dx * dx + dy * dy) / (2 * sigma * sigma)));
        }
    }
    return relief_of(level, SIDE, SIDE);
}

static int by_first_pixel(const void *a, const void *b)
{
    return *(const int *)a - *(const int *)b;
}

/* SEP 1.2 finds the same pixels, without its deblending (levels 1). */
START_TEST(agrees_with_sep)
{
    static float level[PIXELS];
    for (int n = 0; n < 4; n++) {
        struct relief r = make_relief(level, (uint64_t)(n + 3), 60 * n, 1.5);
        sep_image image = {.data = level, .dtype = SEP_TFLOAT, .w = SIDE, .h = SIDE};
        sep_catalog *other = NULL;
        struct islands found;
        struct error err = {0};
        int same = 0;
        /* SEP takes what is above, we what is at the shore or above: no pixel is at it. */
        ck_assert_int_eq(sep_extract(&image, 1.2F, SEP_THRESH_ABS, 3, NULL, 0, 0, SEP_FILTER_CONV,
                                     1, 1, 0, 1, &other),
                         0);
        ck_assert_int_eq(islands_find(&found, &r, 1.2F, 1.2F, 3, n % 2 + 1, &err), 0);
        ck_assert_int_eq((int)found.count, other->nobj);
        for (int i = 0; i < other->nobj; i++) {
            qsort(other->pix[i], (size_t)other->npix[i], sizeof(int), by_first_pixel);
            for (size_t k = 0; k < found.count; k++) {
                const struct island *own = &found.island[k];
                if (own->pixels == other->npix[i] &&
                    memcmp(found.pixel + own->first, other->pix[i],
                           (size_t)own->pixels * sizeof(int)) == 0) {
                    same++;
                    ck_assert_int_eq(own->left, other->xmin[i]);
                    ck_assert_int_eq(own->lower, other->ymax[i]);
                    assert_near(own->flux, (double)other->flux[i], 1e-4 * own->flux, "noises");
                }
            }
        }
        ck_assert_int_eq(same, other->nobj);
        sep_catalog_free(other);
        islands_free(&found);
    }
}
END_TEST

static int parts_of(const struct relief *r, struct islands *found)
{
    struct error err = {0};
    ck_assert_int_eq(islands_find(found, r, 3.5F, 4.2F, 4, 1, &err), 0);
    size_t pixels = found->pixels;
    long sum = 0, after = 0;
    for (size_t i = 0; i < pixels; i++) {
        sum += found->pixel[i];
    }
    ck_assert_int_eq(islands_part(found, r->width, 4, 2, &err), 0);
    size_t counted = 0;
    for (size_t i = 0; i < found->count; i++) {
        const struct island *island = &found->island[i];
        double flux = 0;
        ck_assert_uint_eq(island->first, counted);
        for (int k = 0; k < island->pixels; k++) {
            int at = found->pixel[island->first + (size_t)k], x = at % r->width, y = at / r->width;
            ck_assert(x >= island->left && x <= island->right && y >= island->upper &&
                      y <= island->lower);
            float level = found->level[island->first + (size_t)k];
            ck_assert(level <= island->height);
            ck_assert(level <= r->smooth[at] && level >= r->smooth[at]);
            flux += (double)r->smooth[at];
        }
        assert_near(island->flux, flux, 1e-9 * flux, "noises");
        counted += (size_t)island->pixels;
    }
    for (size_t i = 0; i < counted; i++) {
        after += found->pixel[i];
    }
    /* Every pixel belongs to one island still. */
    ck_assert_uint_eq(counted, pixels);
    ck_assert_int_eq(sum, after);
    return (int)found->count;
}

static void add_star(float *level, double x, double y, double height, double sigma)
{
    for (int i = 0; i < PIXELS; i++) {
        double dx = i % SIDE - x, dy = i / SIDE - y;
        level[i] += (float)(height * exp(-(dx * dx + dy * dy) / (2 * sigma * sigma)));
    }
}

/* Two stars four widths apart are two, even if one has a twentieth of the other's light; one and
 * three quarters apart they are one. Noise on a bright star makes no second. */
START_TEST(parts_stars_and_nothing_else)
{
    static const struct {
        double apart, second;
        int stars;
    } cases[] = {{8, 1, 2}, {8, 0.05, 2}, {3.6, 1, 1}, {8, 0.001, 1}, {0, 0, 1}};
    static float level[PIXELS];
    for (size_t n = 0; n < sizeof cases / sizeof *cases; n++) {
        struct islands found;
        make_relief(level, n + 40, 0, 0);
        add_star(level, 100, 100, 400, 2);
        add_star(level, 100 + cases[n].apart, 100.5, 400 * cases[n].second, 2);
        struct relief r = relief_of(level, SIDE, SIDE);
        parts_of(&r, &found);
        int bright = 0;
        for (size_t i = 0; i < found.count; i++) {
            bright += found.island[i].height > 10;
            ck_assert(!(found.island[i].height > 10) ||
                      found.island[i].merged == (cases[n].stars == 2));
        }
        ck_assert_msg(bright == cases[n].stars, "case %zu: %d instead of %d", n, bright,
                      cases[n].stars);
        islands_free(&found);
    }
}
END_TEST

/* Nothing but passes and summits, in all sizes: whatever comes out, no pixel is lost. */
START_TEST(parts_texture)
{
    static float level[PIXELS];
    for (int n = 0; n < 6; n++) {
        struct islands found;
        make_relief(level, (uint64_t)(n + 60), 20 * n, 3);
        for (int i = 0; i < PIXELS; i++) {
            level[i] = n % 2 ? (float)floor(fabs((double)level[i])) + 3 : 5 + 4 * level[i];
        }
        struct relief r = relief_of(level, SIDE, SIDE);
        ck_assert_int_gt(parts_of(&r, &found), 0);
        islands_free(&found);
    }
}
END_TEST

Suite *islands_suite(void)
{
    Suite *suite = suite_create("islands");
    TCase *tests = tcase_create("islands");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, finds_what_is_connected_and_high);
    tcase_add_test(tests, passes_over_sky_alone);
    tcase_add_test(tests, agrees_with_sep);
    tcase_add_test(tests, parts_stars_and_nothing_else);
    tcase_add_test(tests, parts_texture);
    suite_add_tcase(suite, tests);
    return suite;
}
