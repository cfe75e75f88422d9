/* Names that do not hide each other. */
#include "base/random.h"
#include "draw/labels.h"
#include "draw/pen.h"
#include "near.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *labels_suite(void);

enum { MANY = 80 };

static const struct label_space plain_space = {.width = 1200, .height = 800, .margin = 7, .gap = 4};

static struct label mark(double x, double y, double radius)
{
    return (struct label){.x = x, .y = y, .radius = radius, .width = {90, 40}, .height = {44, 20}};
}

static bool overlap(const struct label_box *a, const struct label_box *b)
{
    return a->x < b->x + b->width && b->x < a->x + a->width && a->y < b->y + b->height &&
           b->y < a->y + a->height;
}

/* By points along it: another way than the code's own. */
static bool line_meets_box(const struct label *line, const struct label_box *box)
{
    for (int i = 0; i <= 400; i++) {
        double t = i / 400.0, x = line->from_x + t * (line->to_x - line->from_x);
        double y = line->from_y + t * (line->to_y - line->from_y);
        if (x > box->x && x < box->x + box->width && y > box->y && y < box->y + box->height) {
            return true;
        }
    }
    return false;
}

static bool circle_meets_box(const struct label *label, const struct label_box *box)
{
    for (int i = 0; i < 72; i++) {
        for (int ring = 0; ring <= 4; ring++) {
            double r = 0.999 * label->radius * ring / 4, angle = i * 0.0872664626;
            double x = label->x + r * cos(angle), y = label->y + r * sin(angle);
            if (x > box->x && x < box->x + box->width && y > box->y && y < box->y + box->height) {
                return true;
            }
        }
    }
    return false;
}

/* What labels.h promises of any two that are placed. */
static void check_two(const struct label *a, const struct label *b)
{
    ck_assert_msg(!overlap(&a->box, &b->box), "two names overlap");
    ck_assert_msg(a->hollow || !circle_meets_box(a, &b->box), "a name hides a mark");
    ck_assert_msg(!a->leader || !line_meets_box(a, &b->box), "a leader crosses a name");
}

static void check_one(const struct label *label, const struct label_space *space)
{
    const struct label_box *box = &label->box;
    ck_assert(box->x >= space->margin && box->y >= space->margin);
    ck_assert(box->x + box->width <= space->width - space->margin);
    ck_assert(box->y + box->height <= space->height - space->margin);
    assert_near(box->width, label->width[label->form], 0, "px");
    assert_near(box->height, label->height[label->form], 0, "px");
    ck_assert_msg(label->hollow || !circle_meets_box(label, box), "a name hides its own mark");
    for (int i = 0; i < space->taken_count; i++) {
        ck_assert_msg(!overlap(box, &space->taken[i]), "a name is written over something");
    }
    if (label->leader) {
        double to_rim = hypot(label->to_x - label->x, label->to_y - label->y);
        assert_near(to_rim, label->radius, 1e-9, "px");
        ck_assert(label->from_x >= box->x && label->from_x <= box->x + box->width);
        ck_assert(label->from_y >= box->y && label->from_y <= box->y + box->height);
    }
}

static int check_all(const struct label *labels, int count, const struct label_space *space)
{
    int placed = 0;
    for (int i = 0; i < count; i++) {
        if (!labels[i].placed) {
            continue;
        }
        placed++;
        check_one(&labels[i], space);
        for (int k = 0; k < count; k++) {
            if (k != i && labels[k].placed) {
                check_two(&labels[i], &labels[k]);
            }
        }
    }
    return placed;
}

static void scatter(struct label *labels, int count, struct random *random)
{
    for (int i = 0; i < count; i++) {
        labels[i] = mark(random_between(random, 0, 1200), random_between(random, 0, 800), 8);
        labels[i].width[0] = random_between(random, 40, 220);
        if (i % 3 == 0) {
            labels[i].width[1] = labels[i].height[1] = 0;
        }
        if (i % 5 == 0) {
            labels[i].radius = random_between(random, 30, 500);
            labels[i].hollow = true;
        }
    }
}

START_TEST(no_name_hides_another_however_many_there_are)
{
    static const int counts[] = {1, 5, 20, 50, MANY};
    struct random random = {11};
    struct label labels[MANY];
    struct label_box taken[2] = {{10, 740, 400, 50}, {1000, 10, 190, 120}};
    struct label_space space = plain_space;
    space.taken = taken;
    space.taken_count = 2;
    for (int run = 0; run < 60; run++) {
        int count = counts[run % 5];
        scatter(labels, count, &random);
        labels_place(labels, count, &space);
        int placed = check_all(labels, count, &space);
        ck_assert_msg(placed >= (count < 20 ? count - 2 : count / 3), "%d of %d placed", placed,
                      count);
    }
}
END_TEST

START_TEST(the_same_input_gives_the_same_places)
{
    struct random random = {5}, again = {5};
    struct label a[MANY], b[MANY];
    scatter(a, MANY, &random);
    scatter(b, MANY, &again);
    labels_place(a, MANY, &plain_space);
    labels_place(b, MANY, &plain_space);
    for (int i = 0; i < MANY; i++) {
        ck_assert(a[i].placed == b[i].placed);
        ck_assert_double_eq(a[i].box.x, b[i].box.x);
        ck_assert_double_eq(a[i].box.y, b[i].box.y);
    }
}
END_TEST

START_TEST(a_lone_name_stands_on_the_right)
{
    struct label label = mark(600, 400, 9);
    labels_place(&label, 1, &plain_space);
    ck_assert(label.placed && !label.leader && label.form == 0);
    assert_near(label.box.x, 600 + 9 + 4, 1e-9, "px");
    assert_near(label.box.y, 400 - 22, 1e-9, "px");
}
END_TEST

START_TEST(at_an_edge_it_turns_inwards)
{
    struct label label = mark(1185, 400, 9);
    labels_place(&label, 1, &plain_space);
    ck_assert(label.placed && !label.leader);
    ck_assert(label.box.x + label.box.width < 1185);
    label = mark(12, 12, 9);
    labels_place(&label, 1, &plain_space);
    ck_assert(label.placed);
    check_one(&label, &plain_space);
}
END_TEST

START_TEST(a_displaced_name_gets_a_leader)
{
    /* Everything next to the mark is taken. */
    struct label_box taken[4] = {
        {480, 340, 100, 120}, {620, 340, 100, 120}, {560, 340, 80, 30}, {560, 430, 80, 30}};
    struct label_space space = plain_space;
    struct label label = mark(600, 400, 9);
    label.width[1] = label.height[1] = 0;
    space.taken = taken;
    space.taken_count = 4;
    labels_place(&label, 1, &space);
    ck_assert(!label.placed); /* every leader would cross what is taken */
    space.taken_count = 2;
    labels_place(&label, 1, &space);
    ck_assert(label.placed && label.leader);
    check_one(&label, &space);
}
END_TEST

START_TEST(the_less_important_gives_way)
{
    /* Room for one name only. */
    struct label_space space = {.width = 220, .height = 60, .margin = 2, .gap = 4};
    struct label labels[2] = {mark(20, 30, 9), mark(60, 30, 9)};
    for (int i = 0; i < 2; i++) {
        labels[i].width[0] = 140;
        labels[i].width[1] = labels[i].height[1] = 0;
    }
    labels_place(labels, 2, &space);
    ck_assert(labels[0].placed);
    ck_assert(!labels[1].placed);
    struct label turned[2] = {labels[1], labels[0]};
    labels_place(turned, 2, &space);
    ck_assert(turned[0].placed);
    ck_assert(!turned[1].placed);
}
END_TEST

START_TEST(the_short_form_serves_where_the_full_one_does_not)
{
    struct label_space space = {.width = 120, .height = 60, .margin = 2, .gap = 4};
    struct label label = mark(30, 30, 9);
    label.width[0] = 110;
    labels_place(&label, 1, &space);
    ck_assert(label.placed);
    ck_assert_int_eq(label.form, 1);
    check_one(&label, &space);
}
END_TEST

START_TEST(a_mark_under_another_name_is_dropped)
{
    struct label labels[2] = {mark(600, 400, 9), mark(640, 400, 9)};
    /* No place but the right of the first one. */
    struct label_space space = {.width = 1200, .height = 800, .margin = 7, .gap = 4};
    struct label_box taken[3] = {{500, 300, 90, 200}, {580, 300, 200, 75}, {580, 425, 200, 75}};
    space.taken = taken;
    space.taken_count = 3;
    labels_place(labels, 2, &space);
    ck_assert(labels[0].placed);
    ck_assert(overlap(&labels[0].box, &(struct label_box){635, 395, 10, 10}));
    ck_assert(!labels[1].placed);
}
END_TEST

START_TEST(a_large_outline_may_be_named_within)
{
    /* Its rim lies in the picture only at the left; outside of it there is no room. */
    struct label label = mark(600, 400, 590);
    label.hollow = true;
    labels_place(&label, 1, &plain_space);
    ck_assert(label.placed);
    check_one(&label, &plain_space);
    double far =
        hypot(label.box.x + label.box.width / 2 - 600, label.box.y + label.box.height / 2 - 400);
    ck_assert(far < 590);
}
END_TEST

/* A line runs to the right from beside the mark, where the name would stand. */
START_TEST(a_name_keeps_off_a_line)
{
    struct canvas sheet;
    struct busy_map lines = {0};
    struct label_space space = plain_space;
    struct label label = mark(600, 400, 9);
    ck_assert_int_eq(canvas_open(&sheet, 1200, 800, theme_of(THEME_NIGHT), NULL), 0);
    cairo_move_to(sheet.cairo, 610, 400);
    cairo_line_to(sheet.cairo, 1200, 400);
    pen_stroke(&sheet, INK_FIGURE, STYLE_FIGURE_LINE);
    ck_assert_int_eq(busy_of_sheet(&lines, &sheet, 1, NULL), 0);
    space.lines = &lines;
    labels_place(&label, 1, &space);
    ck_assert(label.placed && label.form == 0);
    check_one(&label, &space);
    assert_near(busy_in(&lines, &label.box), 0, 1e-12, "of the box");
    ck_assert_double_gt(busy_in(&lines, &(struct label_box){613, 378, 90, 44}), 0.01);
    busy_free(&lines);
    canvas_free(&sheet);
}
END_TEST

START_TEST(nothing_to_do_is_fine)
{
    labels_place(NULL, 0, &plain_space);
    struct label label = mark(600, 400, 9);
    memset(label.width, 0, sizeof label.width); /* as without any font */
    memset(label.height, 0, sizeof label.height);
    labels_place(&label, 1, &plain_space);
    ck_assert(!label.placed);
}
END_TEST

/* At any turn: outside, and no farther off than the gap from the line that touches the rim there.
 */
START_TEST(a_name_keeps_to_the_side_of_an_ellipse)
{
    for (int turn = 0; turn < 180; turn += 15) {
        struct label label = mark(600, 400, 100);
        label.minor = 20;
        label.turn = turn * 0.0174532925;
        labels_place(&label, 1, &plain_space);
        ck_assert(label.placed && !label.leader);
        double nearest = 1e9;
        for (int i = 0; i < 720; i++) {
            double t = i * 0.00872664626, along = 100 * cos(t), across = 20 * sin(t);
            double x = 600 + along * cos(label.turn) - across * sin(label.turn);
            double y = 400 + along * sin(label.turn) + across * cos(label.turn);
            double dx = fmax(fmax(label.box.x - x, x - label.box.x - label.box.width), 0);
            double dy = fmax(fmax(label.box.y - y, y - label.box.y - label.box.height), 0);
            nearest = fmin(nearest, hypot(dx, dy));
        }
        ck_assert_msg(nearest > 0 && nearest < 25, "turned by %d: %.1f px off", turn, nearest);
    }
}
END_TEST

Suite *labels_suite(void)
{
    Suite *suite = suite_create("labels");
    TCase *places = tcase_create("places");
    tcase_add_test(places, no_name_hides_another_however_many_there_are);
    tcase_add_test(places, the_same_input_gives_the_same_places);
    tcase_add_test(places, a_lone_name_stands_on_the_right);
    tcase_add_test(places, at_an_edge_it_turns_inwards);
    tcase_add_test(places, a_displaced_name_gets_a_leader);
    tcase_add_test(places, the_less_important_gives_way);
    tcase_add_test(places, the_short_form_serves_where_the_full_one_does_not);
    tcase_add_test(places, a_mark_under_another_name_is_dropped);
    tcase_add_test(places, a_large_outline_may_be_named_within);
    tcase_add_test(places, a_name_keeps_off_a_line);
    tcase_add_test(places, nothing_to_do_is_fine);
    tcase_add_test(places, a_name_keeps_to_the_side_of_an_ellipse);
    suite_add_tcase(suite, places);
    return suite;
}
