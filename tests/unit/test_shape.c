#include "stars/shape.h"

#include "base/median.h"
#include "base/random.h"
#include "base/units.h"
#include "near.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

Suite *shape_suite(void);

enum { COLUMNS = 24, ROWS = 16, APART = 32, STARS = COLUMNS * ROWS };

/* A plane of equal stars, round or drawn out along a line, and the list that says where they are.
 */
static void draw(struct frame *frame, struct star_list *list, double sigma, double length,
                 double angle_deg, double light, double noise)
{
    struct random r = {77};
    int width = COLUMNS * APART, height = ROWS * APART;
    double c = cos(angle_deg * RAD_PER_DEG), s = sin(angle_deg * RAD_PER_DEG);
    *frame = (struct frame){.width = width, .height = height};
    frame->luminance = (struct plane){.width = width, .height = height, .bin = 1, .full = 60000};
    frame->luminance.value = malloc((size_t)width * (size_t)height * sizeof(float));
    *list = (struct star_list){.count = STARS, .width = width, .height = height};
    list->star = calloc(STARS, sizeof *list->star);
    ck_assert(frame->luminance.value && list->star);
    for (int k = 0; k < STARS; k++) {
        struct star *star = &list->star[k];
        star->x = (k % COLUMNS + 0.5) * APART + random_uniform(&r);
        star->y = (k / COLUMNS + 0.5) * APART + random_uniform(&r);
        star->size = 0.9 * sigma;
        star->elongation = sqrt(1 + length * length / 12 / (sigma * sigma));
        star->angle_deg = angle_deg;
    }
    for (int i = 0; i < width * height; i++) {
        const struct star *star = &list->star[i / width / APART * COLUMNS + i % width / APART];
        double dx = i % width - star->x, dy = i / width - star->y, value = 0;
        for (int step = 0; step < 16; step++) {
            double t = ((step + 0.5) / 16 - 0.5) * length, u = dx - t * c, v = dy - t * s;
            value +=
                light / 16 / (2 * PI * sigma * sigma) * exp(-(u * u + v * v) / (2 * sigma * sigma));
        }
        frame->luminance.value[i] = (float)(500 + value + noise * random_normal(&r));
    }
}

/* Median variances of all stars, across a given direction and across each fit's own. */
static void measure(double *across, double *own, const struct frame *frame,
                    const struct star_list *list, double angle_deg)
{
    double first[STARS], second[STARS];
    double c = cos(2 * angle_deg * RAD_PER_DEG), s = sin(2 * angle_deg * RAD_PER_DEG);
    int n = 0;
    for (int k = 0; k < STARS; k++) {
        struct star_shape shape;
        if (shape_fit(&shape, &frame->luminance, &list->star[k])) {
            first[n] = shape_variance_across(&shape, c, s);
            second[n++] = shape.variance;
        }
    }
    ck_assert_int_gt(n, STARS / 2);
    *across = median_of(first, n);
    *own = median_of(second, n);
}

/* Without noise both are right; at a signal of 18 noises a star's own direction makes it a tenth
 * narrower and more, a given one does not. */
START_TEST(noise_makes_no_star_narrow)
{
    static const double lengths[] = {0, 0.5, 4};
    const double sigma = 1.4;
    for (size_t k = 0; k < sizeof lengths / sizeof *lengths; k++) {
        struct frame frame;
        struct star_list list;
        double across, own;
        draw(&frame, &list, sigma, lengths[k], 25, 10000, 0.01);
        measure(&across, &own, &frame, &list, 25);
        assert_near(across, sigma * sigma, 0.005 * sigma * sigma, "px^2");
        assert_near(own, sigma * sigma, 0.005 * sigma * sigma, "px^2");
        free(frame.luminance.value);
        free(list.star);
        double area = 2 * sqrt(PI) * sigma * (lengths[k] + 2 * sqrt(PI) * sigma);
        draw(&frame, &list, sigma, lengths[k], 25, 18 * 10 * sqrt(area), 10);
        measure(&across, &own, &frame, &list, 25);
        assert_near(across, sigma * sigma, 0.04 * sigma * sigma, "px^2");
        ck_assert_double_lt(own, lengths[k] < 1 ? 0.93 * sigma * sigma : 1.03 * sigma * sigma);
        free(frame.luminance.value);
        free(list.star);
    }
}
END_TEST

Suite *shape_suite(void)
{
    Suite *suite = suite_create("shape");
    TCase *tests = tcase_create("shape");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, noise_makes_no_star_narrow);
    suite_add_tcase(suite, tests);
    return suite;
}
