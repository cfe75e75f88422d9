#include "draw/labels.h"

#include "base/clamp.h"
#include "base/units.h"

#include <math.h>

/* Directions are tried in this order: the right first, as text is read from there. */
enum { DIRECTIONS = 16, STEPS = 5 };
static const int direction_order[DIRECTIONS] = {0, 1,  15, 8,  7,  9, 12, 4,
                                                2, 14, 6,  10, 13, 3, 11, 5};

/* How far off, in heights of a line; the first touches the circle but for the gap. */
static const double step_heights[STEPS] = {0, 0.6, 1.3, 2.2, 3.5};

/* What makes a place worse, in the same unit. */
static const double price_direction = 0.04, price_form = 2.5, price_inside = 0.5;
static const double price_rim = 0.8, price_hidden = 1.5, price_heart = 3, price_busy = 7;
static const double price_region_step = 0.7;

/* For a line as thick as a name is high, that crosses it. */
static const double price_line = 18;

/* A circle of a smaller radius than so many heights of a name is hidden by it. */
static const double price_small_heights = 3;

struct placing {
    const struct label *labels;
    int count, current;
    const struct label_space *space;
};

/* Distance of a point from the nearest point of a box, 0 inside. */
static double box_distance(const struct label_box *box, double x, double y)
{
    return hypot(x - clamp(x, box->x, box->x + box->width),
                 y - clamp(y, box->y, box->y + box->height));
}

static double box_farthest(const struct label_box *box, double x, double y)
{
    double dx = fmax(fabs(x - box->x), fabs(x - box->x - box->width));
    double dy = fmax(fabs(y - box->y), fabs(y - box->y - box->height));
    return hypot(dx, dy);
}

/* Whether the line passes through the box, by cutting it at the four sides (Liang & Barsky 1984,
 * ACM Trans. Graphics 3, 1). */
static bool line_touches(const struct label_box *box, const struct label *line, double gap)
{
    double d[2] = {line->to_x - line->from_x, line->to_y - line->from_y};
    double low[2] = {box->x - gap - line->from_x, box->y - gap - line->from_y};
    double high[2] = {low[0] + box->width + 2 * gap, low[1] + box->height + 2 * gap};
    double start = 0, end = 1;
    for (int axis = 0; axis < 2; axis++) {
        if (d[axis] == 0) {
            if (low[axis] > 0 || high[axis] < 0) {
                return false;
            }
            continue;
        }
        double a = low[axis] / d[axis], b = high[axis] / d[axis];
        start = fmax(start, fmin(a, b));
        end = fmin(end, fmax(a, b));
    }
    return start < end;
}

static double line_distance(const struct label *line, double x, double y)
{
    double dx = line->to_x - line->from_x, dy = line->to_y - line->from_y;
    double length2 = dx * dx + dy * dy;
    double along = (x - line->from_x) * dx + (y - line->from_y) * dy;
    double part = length2 > 0 ? clamp(along / length2, 0, 1) : 0;
    return hypot(x - line->from_x - part * dx, y - line->from_y - part * dy);
}

/* On which side of a line a point is: the sign tells. */
static double side(const struct label *line, double x, double y)
{
    return (line->to_x - line->from_x) * (y - line->from_y) -
           (line->to_y - line->from_y) * (x - line->from_x);
}

static bool lines_cross(const struct label *a, const struct label *b)
{
    return side(a, b->from_x, b->from_y) * side(a, b->to_x, b->to_y) < 0 &&
           side(b, a->from_x, a->from_y) * side(b, a->to_x, a->to_y) < 0;
}

static bool is_in_picture(const struct label_box *box, const struct label_space *space)
{
    return box->x >= space->margin && box->y >= space->margin &&
           box->x + box->width <= space->width - space->margin &&
           box->y + box->height <= space->height - space->margin;
}

bool label_box_is_free(const struct label_box *box, const struct label_space *space)
{
    bool free = is_in_picture(box, space);
    for (int i = 0; free && i < space->taken_count; i++) {
        free = !label_boxes_touch(box, &space->taken[i], space->gap);
    }
    return free;
}

/* Whether a name may stand as in the trial beside one that is placed already. */
static bool can_stand_by(const struct label *trial, const struct label *other,
                         const struct label_space *space)
{
    double radius = other->hollow ? 0 : other->radius;
    if (label_boxes_touch(&trial->box, &other->box, space->gap) ||
        box_distance(&trial->box, other->x, other->y) < radius ||
        (other->leader && line_touches(&trial->box, other, space->gap / 2))) {
        return false;
    }
    return !trial->leader || (!line_touches(&other->box, trial, 0) &&
                              line_distance(trial, other->x, other->y) >= radius &&
                              !(other->leader && lines_cross(trial, other)));
}

/* Whether what is drawn already leaves room for the trial: its box and its leader. */
static bool is_free(const struct placing *placing, const struct label *trial)
{
    const struct label_space *space = placing->space;
    double own = trial->hollow ? 0 : trial->minor > 0 ? trial->minor : trial->radius;
    if (!label_box_is_free(&trial->box, space) ||
        box_distance(&trial->box, trial->x, trial->y) < own) {
        return false;
    }
    for (int i = 0; trial->leader && i < space->taken_count; i++) {
        if (line_touches(&space->taken[i], trial, 0)) {
            return false;
        }
    }
    for (int i = 0; i < placing->current; i++) {
        const struct label *other = &placing->labels[i];
        if (other->placed && !can_stand_by(trial, other, space)) {
            return false;
        }
    }
    return true;
}

/* From the middle to the rim in a direction. */
static double rim_at(const struct label *label, double angle)
{
    double a = label->radius, b = label->minor, c = cos(angle - label->turn),
           s = sin(angle - label->turn);
    return b > 0 ? a * b / sqrt(b * b * c * c + a * a * s * s) : a;
}

/* From the middle to the line across that direction which only just touches the rim. */
static double extent_at(const struct label *label, double angle)
{
    double a = label->radius, b = label->minor > 0 ? label->minor : a;
    return hypot(a * cos(angle - label->turn), b * sin(angle - label->turn));
}

/* From the middle to the rim, towards the nearest point of a box. */
static double rim_towards(const struct label *label, const struct label_box *box)
{
    double x = clamp(label->x, box->x, box->x + box->width) - label->x;
    double y = clamp(label->y, box->y, box->y + box->height) - label->y;
    return rim_at(label, atan2(y, x));
}

/* Hiding something small, crossing a rim, or covering the middle of something large is allowed
 * where it cannot be helped, but paid for. */
static double crossing(const struct label *other, const struct label_box *box, bool own)
{
    double near = box_distance(box, other->x, other->y);
    if (near >= rim_towards(other, box)) {
        return 0;
    }
    bool small = other->radius < price_small_heights * box->height;
    if (!own && (!other->hollow || small)) {
        return price_hidden;
    }
    double heart = own ? 0 : price_heart * (1 - near / other->radius);
    return heart + (box_farthest(box, other->x, other->y) > other->radius ? price_rim : 0);
}

/* What is dropped hides nothing, what is still to come may be hidden. */
static double crossings(const struct placing *placing, const struct label_box *box)
{
    double price = 0;
    for (int i = 0; i < placing->count; i++) {
        const struct label *other = &placing->labels[i];
        if (!other->region && (i >= placing->current || other->placed)) {
            price += crossing(other, box, i == placing->current);
        }
    }
    return price;
}

/* Puts the box beside the point that lies in a direction at a distance from the rim, with the side
 * or corner that is nearest to it there. outside is 1, or -1 for a box within the circle. */
static void set_box(struct label *trial, double angle, double distance, double outside)
{
    double c = cos(angle), s = sin(angle);
    double rim = outside > 0 ? extent_at(trial, angle) : rim_at(trial, angle);
    double reach = rim + outside * distance;
    struct label_box *box = &trial->box;
    box->width = trial->width[trial->form];
    box->height = trial->height[trial->form];
    double lean_x = outside * clamp(c * sqrt(2), -1, 1),
           lean_y = outside * clamp(s * sqrt(2), -1, 1);
    box->x = trial->x + c * reach + (lean_x - 1) * box->width / 2;
    box->y = trial->y + s * reach + (lean_y - 1) * box->height / 2;
}

static void set_leader(struct label *trial, double angle, bool displaced)
{
    const struct label_box *box = &trial->box;
    trial->leader = displaced;
    trial->to_x = trial->x + rim_at(trial, angle) * cos(angle);
    trial->to_y = trial->y + rim_at(trial, angle) * sin(angle);
    trial->from_x = clamp(trial->to_x, box->x, box->x + box->width);
    trial->from_y = clamp(trial->to_y, box->y, box->y + box->height);
}

/* Of the shortest form, which is one line. */
static double line_height(const struct label *label)
{
    return label->width[1] > 0 ? label->height[1] : label->height[0];
}

/* Lines below a name, as thick and as long as they are there. */
static double lines_below(const struct label_space *space, const struct label_box *box,
                          double line_height)
{
    if (!space->lines) {
        return 0;
    }
    double area = box->width * box->height / fmax(line_height * line_height, 1);
    return price_line * area * busy_in(space->lines, box);
}

static void try_place(struct label *best, double *best_price, struct label *trial,
                      const struct placing *placing, double price)
{
    if (price < *best_price && is_free(placing, trial)) {
        price += crossings(placing, &trial->box);
        price += lines_below(placing->space, &trial->box, line_height(trial));
        price += placing->space->busy ? price_busy * busy_in(placing->space->busy, &trial->box) : 0;
        if (price < *best_price) {
            trial->placed = true;
            *best = *trial;
            *best_price = price;
        }
    }
}

/* Whether what was placed before already covers the thing itself. */
static bool is_hidden(const struct placing *placing, const struct label *label)
{
    if (label->hollow) {
        return false;
    }
    for (int i = 0; i < placing->current; i++) {
        const struct label *other = &placing->labels[i];
        if (other->placed &&
            (box_distance(&other->box, label->x, label->y) < label->radius ||
             (other->leader && line_distance(other, label->x, label->y) < label->radius))) {
            return true;
        }
    }
    for (int i = 0; i < placing->space->taken_count; i++) {
        if (box_distance(&placing->space->taken[i], label->x, label->y) < label->radius) {
            return true;
        }
    }
    return false;
}

/* Tries one form of a name all around what it names. */
static void try_form(struct label *best, double *best_price, const struct label *label,
                     const struct placing *placing, int form)
{
    struct label trial = *label;
    double unit = line_height(label), gap = placing->space->gap;
    trial.form = form;
    for (int step = 0; step < (label->close ? 1 : STEPS); step++) {
        double distance = gap + step_heights[step] * unit;
        for (int i = 0; i < DIRECTIONS; i++) {
            double angle = 2 * PI * direction_order[i] / DIRECTIONS;
            double price = price_form * form + step_heights[step] + price_direction * i;
            set_box(&trial, angle, distance, 1);
            set_leader(&trial, angle, step > 1);
            try_place(best, best_price, &trial, placing, price);
            if (label->hollow && step < 2) {
                set_box(&trial, angle, distance, -1);
                set_leader(&trial, angle, false);
                try_place(best, best_price, &trial, placing, price + price_inside);
            }
        }
    }
}

/* Tries a name around the middle of its region. */
static void try_region(struct label *best, double *best_price, const struct label *label,
                       const struct placing *placing)
{
    enum { RINGS = 8 };
    struct label trial = *label;
    for (int ring = 0; ring < RINGS; ring++) {
        for (int i = 0; i < (ring ? DIRECTIONS : 1); i++) {
            double angle = 2 * PI * direction_order[i] / DIRECTIONS;
            double off = ring * 1.2 * label->height[0];
            trial.box = (struct label_box){
                label->x + off * cos(angle) - label->width[0] / 2,
                label->y + off * sin(angle) - label->height[0] / 2,
                label->width[0],
                label->height[0],
            };
            try_place(best, best_price, &trial, placing, price_region_step * ring);
        }
    }
}

void labels_place(struct label *labels, int count, const struct label_space *space)
{
    struct placing placing = {.labels = labels, .count = count, .space = space};
    for (int i = 0; i < count; i++) {
        placing.current = i;
        labels[i].placed = false;
        if (is_hidden(&placing, &labels[i])) {
            continue;
        }
        struct label best = labels[i];
        double price = INFINITY;
        if (labels[i].region) {
            try_region(&best, &price, &labels[i], &placing);
        }
        for (int form = 0; form < LABEL_FORMS; form++) {
            if (!labels[i].region && labels[i].width[form] > 0) {
                try_form(&best, &price, &labels[i], &placing, form);
            }
        }
        labels[i] = best;
    }
}
