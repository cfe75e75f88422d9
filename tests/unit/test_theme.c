/* Colours that stay apart for every kind of colour vision. */
#include "draw/theme.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

Suite *theme_suite(void);

/* Linear RGB as seen with the kinds of colour vision that lack a cone: protan, deutan (Vienot,
 * Brettel & Mollon 1999, Color Res. Appl. 24, 243, reduced to 3 x 3 matrices) and tritan (after
 * Brettel, Vienot & Mollon 1997, J. Opt. Soc. Am. A 14, 2647); the numbers from memory. The first
 * is normal. */
static const double vision[4][3][3] = {
    {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
    {{0.11238, 0.88762, 0}, {0.11238, 0.88762, 0}, {0.00401, -0.00401, 1}},
    {{0.29275, 0.70725, 0}, {0.29275, 0.70725, 0}, {-0.02234, 0.02234, 1}},
    {{1, 0.14461, -0.14461}, {0, 0.85924, 0.14076}, {0, 0.85924, 0.14076}},
};

static double to_linear(double s)
{
    return s <= 0.04045 ? s / 12.92 : pow((s + 0.055) / 1.055, 2.4);
}

static double lab_curve(double t)
{
    return t > 216.0 / 24389 ? cbrt(t) : (24389.0 / 27 * t + 16) / 116;
}

/* CIE 1976 L*a*b*, D65, of a colour on the theme's sky as one kind of vision has it. */
static void to_lab(double lab[3], const struct colour *colour, const struct colour *sky,
                   const double seen[3][3])
{
    const double top[3] = {colour->red, colour->green, colour->blue};
    const double ground[3] = {sky->red, sky->green, sky->blue};
    double linear[3], rgb[3], xyz[3];
    static const double to_xyz[3][3] = {
        {0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}};
    static const double white[3] = {0.9505, 1, 1.089};
    for (int i = 0; i < 3; i++) {
        linear[i] = to_linear(colour->alpha * top[i] + (1 - colour->alpha) * ground[i]);
    }
    for (int i = 0; i < 3; i++) {
        double sum = seen[i][0] * linear[0] + seen[i][1] * linear[1] + seen[i][2] * linear[2];
        rgb[i] = fmin(1, fmax(0, sum));
    }
    for (int i = 0; i < 3; i++) {
        xyz[i] = (to_xyz[i][0] * rgb[0] + to_xyz[i][1] * rgb[1] + to_xyz[i][2] * rgb[2]) / white[i];
    }
    lab[0] = 116 * lab_curve(xyz[1]) - 16;
    lab[1] = 500 * (lab_curve(xyz[0]) - lab_curve(xyz[1]));
    lab[2] = 200 * (lab_curve(xyz[1]) - lab_curve(xyz[2]));
}

static double difference(const struct theme *theme, enum ink a, enum ink b, int kind)
{
    double one[3], two[3];
    to_lab(one, &theme->ink[a], &theme->sky, vision[kind]);
    to_lab(two, &theme->ink[b], &theme->sky, vision[kind]);
    return sqrt(pow(one[0] - two[0], 2) + pow(one[1] - two[1], 2) + pow(one[2] - two[2], 2));
}

/* Differences of 10 and more are seen at a glance (common practice, no source). Object and star are
 * the two that stand side by side everywhere. Of plain lines, those that could be taken for each
 * other are compared; borders and the frame's rectangle have a shape of their own. */
START_TEST(inks_stay_apart_for_all_kinds_of_vision)
{
    static const enum ink pairs[][2] = {
        {INK_OBJECT, INK_STAR},   {INK_OBJECT, INK_FIGURE}, {INK_OBJECT, INK_FRAME},
        {INK_FIGURE, INK_GRID},   {INK_FIGURE, INK_STAR},   {INK_FIGURE, INK_ECLIPTIC},
        {INK_GRID, INK_ECLIPTIC},
    };
    static const enum theme_kind kinds[] = {THEME_NIGHT, THEME_PAPER};
    for (int t = 0; t < 2; t++) {
        for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
            for (int kind = 0; kind < 4; kind++) {
                double apart = difference(theme_of(kinds[t]), pairs[i][0], pairs[i][1], kind);
                ck_assert_msg(apart >= 10, "theme %d, inks %d and %d, vision %d: %.1f apart",
                              kinds[t], pairs[i][0], pairs[i][1], kind, apart);
            }
        }
    }
}
END_TEST

START_TEST(the_red_theme_is_red_alone)
{
    const struct theme *red = theme_of(THEME_RED);
    for (int i = 0; i < INKS; i++) {
        ck_assert_double_eq(red->ink[i].green + red->ink[i].blue, 0);
    }
    ck_assert_double_eq(red->sky.green + red->sky.blue + red->disc.green + red->disc.blue, 0);
    ck_assert(red->red);
}
END_TEST

Suite *theme_suite(void)
{
    Suite *suite = suite_create("theme");
    TCase *all = tcase_create("all");
    tcase_add_test(all, inks_stay_apart_for_all_kinds_of_vision);
    tcase_add_test(all, the_red_theme_is_red_alone);
    suite_add_tcase(suite, all);
    return suite;
}
