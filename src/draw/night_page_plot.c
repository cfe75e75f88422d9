#include "draw/night_page.h"

#include <math.h>
#include <stdlib.h>

/* Units of the drawings; they are scaled to the page. */
enum { WIDE = 1000, RIBBON_HIGH = 78, PLOT_HIGH = 180, LEFT = 76, MOST_POINTS = 1500 };

static const char *const verdict_class[JUDGE_VERDICTS] = {"k", "d", "x", "a"};

/* Place along the night, 0..1; by order where no clock tells. */
static double along(const struct review *review, int i)
{
    double by_order = (i + 0.5) / review->frames;
    double time = review->frame[i].time_s;
    return review->length_s > 0 ? (isfinite(time) ? time / review->length_s : (double)NAN)
                                : by_order;
}

static int stride(const struct review *review)
{
    return review->frames / MOST_POINTS + 1;
}

static double across(double along_night)
{
    return LEFT + along_night * (WIDE - LEFT - 8);
}

/* Lights first, then what was wrong, so that this is never hidden. */
static void draw_bars(FILE *out, const struct review *review, enum judge_verdict verdict)
{
    double wide = fmin(8, fmax(1.5, 0.8 * (WIDE - LEFT) / review->frames));
    fprintf(out, "<path class=\"s%s\" stroke-width=\"%.1f\" d=\"", verdict_class[verdict], wide);
    int step = verdict == JUDGE_KEEP ? stride(review) : 1;
    for (int i = 0; i < review->frames; i += step) {
        double x = along(review, i);
        if (review->frame[i].judgement.verdict == verdict && isfinite(x)) {
            fprintf(out, "M%.1f 4V%d", across(x),
                    verdict == JUDGE_APART ? RIBBON_HIGH / 4 : RIBBON_HIGH - 34);
        }
    }
    fprintf(out, "\"/>");
}

static void draw_clock(FILE *out, const struct review *review, double y, bool labels)
{
    static const double steps[] = {10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400};
    double step = steps[9];
    for (int i = 9; i >= 0; i--) {
        step = review->length_s / steps[i] <= 6 ? steps[i] : step;
    }
    struct utc midnight = {.day = floor(review->start.day + review->start.fraction - 0.5) + 0.5};
    double phase = fmod(time_between(midnight, review->start), step);
    for (double t = phase > 0 ? step - phase : 0; t <= review->length_s; t += step) {
        double x = across(t / review->length_s);
        char clock[24];
        review_write_time(clock, sizeof clock, review, t + 0.01);
        clock[step < 60 ? 8 : 5] = '\0';
        fprintf(out, "<path class=\"tick\" d=\"M%.1f %.1fv-5\"/>", x, y - 14);
        if (labels && x > 24 && x < WIDE - 24) {
            fprintf(out,
                    "<text class=\"lab\" text-anchor=\"middle\" x=\"%.1f\" y=\"%.1f\">%s</text>", x,
                    y, clock);
        }
    }
}

void night_plot_ribbon(FILE *out, const struct review *review)
{
    fprintf(out, "<svg viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"each frame of the night\">",
            WIDE, RIBBON_HIGH);
    draw_bars(out, review, JUDGE_KEEP);
    draw_bars(out, review, JUDGE_APART);
    draw_bars(out, review, JUDGE_DOUBTFUL);
    draw_bars(out, review, JUDGE_DROP);
    draw_clock(out, review, RIBBON_HIGH - 2, true);
    fprintf(out, "</svg>");
}

static void draw_moves(FILE *out, const struct review *review, double bottom)
{
    for (int i = 0; i < review->events; i++) {
        const struct review_event *event = &review->event[i];
        double x = along(review, event->first);
        if (event->kind <= REVIEW_KNOCKED && isfinite(x)) {
            fprintf(out, "<path class=\"%s\" d=\"M%.1f 30V%.1f\"/>",
                    event->kind == REVIEW_RECENTRED ? "move" : "knock", across(x), bottom);
        }
    }
}

static bool find_range(double *low, double *high, const struct review *review,
                       const struct night_plot *plot)
{
    *low = (double)INFINITY;
    *high = -(double)INFINITY;
    for (int i = 0; i < review->frames; i++) {
        double y = plot->number(&review->frame[i]);
        if (isfinite(y)) {
            *low = fmin(*low, y);
            *high = fmax(*high, y);
        }
    }
    double room = fmax(0.08 * (*high - *low), 0.02 * fabs(*high) + 1e-9);
    *low = *low >= 0 && *low < room ? 0 : *low - room;
    *high += room;
    return isfinite(*low) && isfinite(*high);
}

void night_plot_draw(FILE *out, const struct review *review, const struct night_plot *plot)
{
    double low, high, top = 34, bottom = PLOT_HIGH - 24;
    if (!find_range(&low, &high, review, plot)) {
        return;
    }
    fprintf(out,
            "<figure><figcaption>%s <small>%s</small></figcaption><svg viewBox=\"0 0 %d %d\" "
            "role=\"img\">",
            plot->title, plot->unit, WIDE, PLOT_HIGH);
    for (int i = 0; i < 3; i++) {
        double y = bottom - (bottom - top) * i / 2, value = low + (high - low) * i / 2;
        fprintf(out,
                "<path class=\"grid\" d=\"M%d %.1fH%d\"/><text class=\"lab\" text-anchor=\"end\" "
                "x=\"%d\" "
                "y=\"%.1f\">%.*f</text>",
                LEFT - 8, y, WIDE, LEFT - 14, y + 6, plot->decimals, value);
    }
    draw_moves(out, review, bottom);
    int step = stride(review);
    for (int i = 0; i < review->frames; i++) {
        const struct review_frame *f = &review->frame[i];
        double x = along(review, i), y = plot->number(f);
        bool plain = f->judgement.verdict == JUDGE_KEEP;
        if (isfinite(x) && isfinite(y) && (!plain || i % step == 0)) {
            fprintf(out, "<circle class=\"f%s\" r=\"%s\" cx=\"%.1f\" cy=\"%.1f\"/>",
                    verdict_class[f->judgement.verdict], plain ? "3.5" : "5", across(x),
                    bottom - (y - low) / (high - low) * (bottom - top));
        }
    }
    draw_clock(out, review, PLOT_HIGH - 4, true);
    fprintf(out, "</svg></figure>");
}

void night_plot_path(FILE *out, const struct review *review)
{
    int width = 0, height = 0, batch = -1, last = -1, step = stride(review);
    for (int i = 0; i < review->frames && !width; i++) {
        if (review->frame[i].frame->solved) {
            width = review->frame[i].frame->width;
            height = review->frame[i].frame->height;
        }
    }
    if (!width) {
        return;
    }
    double scale = 600.0 / width, dot = 5;
    fprintf(
        out,
        "<svg viewBox=\"-20 -20 640 %.0f\" role=\"img\" aria-label=\"path of the target\"><rect "
        "class=\"frame\" width=\"600\" height=\"%.1f\"/><path class=\"grid\" d=\"M300 0V%.1fM0 "
        "%.1fH600\"/>",
        height * scale + 40, height * scale, height * scale, height * scale / 2);
    for (int i = 0; i < review->frames; i++) {
        const struct review_frame *f = &review->frame[i];
        if (!isfinite(f->x) || f->frame->width != width) {
            continue;
        }
        bool turn = f->batch != batch;
        double x = fmin(620, fmax(-20, (f->x + 0.5) * scale));
        double y = fmin(height * scale + 20, fmax(-20, (f->y + 0.5) * scale));
        if (turn && last >= 0) {
            fprintf(out, "<path class=\"jump\" d=\"M%.1f %.1fL%.1f %.1f\"/>",
                    (review->frame[last].x + 0.5) * scale, (review->frame[last].y + 0.5) * scale, x,
                    y);
        }
        if (turn || i % step == 0 || f->judgement.verdict != JUDGE_KEEP) {
            fprintf(out, "<circle class=\"f%s\" r=\"%.0f\" cx=\"%.1f\" cy=\"%.1f\"/>",
                    verdict_class[f->judgement.verdict], dot, x, y);
        }
        if (turn) {
            fprintf(out, "<text class=\"lab\" x=\"%.1f\" y=\"%.1f\">%d</text>", x + 9, y - 9,
                    f->batch + 1);
        }
        batch = f->batch;
        last = i;
    }
    fprintf(out, "</svg>");
}

/* Runs of cells with one share become one rectangle. */
static void draw_cells(FILE *out, const struct review_cover *cover)
{
    for (int row = 0; row < REVIEW_MAP_HEIGHT; row++) {
        for (int from = 0, to; from < REVIEW_MAP_WIDTH; from = to) {
            int level = (int)(20 * cover->share[row][from] + 0.999f);
            for (to = from + 1;
                 to < REVIEW_MAP_WIDTH && (int)(20 * cover->share[row][to] + 0.999f) == level;) {
                to++;
            }
            if (level > 0) {
                fprintf(out,
                        "<rect class=\"sky\" opacity=\"%.2f\" x=\"%d\" y=\"%d\" width=\"%d\" "
                        "height=\"1\"/>",
                        0.05 + level * 0.0425, from, row, to - from);
            }
        }
    }
}

/* The target as the map has it. */
static void draw_rim(FILE *out, const struct review_cover *cover)
{
    for (int i = 0; i < cover->rims; i++) {
        if (!isfinite(cover->rim[i][0])) {
            return;
        }
    }
    for (int i = 0; i < cover->rims; i++) {
        fprintf(out, "%s%.2f,%.2f", i ? " " : "<polygon class=\"rim\" points=\"",
                (cover->rim[i][0] - cover->left) / cover->step_px + 0.5,
                (cover->rim[i][1] - cover->top) / cover->step_px + 0.5);
    }
    if (cover->rims > 0) {
        fprintf(out, "\"/>");
    }
}

void night_plot_cover(FILE *out, const struct review *review)
{
    const struct review_cover *cover = &review->cover;
    if (review->reference < 0) {
        return;
    }
    const struct night_frame *reference = review->frame[review->reference].frame;
    double left = (-0.5 - cover->left) / cover->step_px + 0.5;
    double top = (-0.5 - cover->top) / cover->step_px + 0.5;
    fprintf(out,
            "<svg viewBox=\"0 0 %d %d\" role=\"img\" shape-rendering=\"crispEdges\" "
            "aria-label=\"what the kept frames cover\">",
            REVIEW_MAP_WIDTH, REVIEW_MAP_HEIGHT);
    draw_cells(out, cover);
    fprintf(out, "<rect class=\"thin\" x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\"/>",
            left, top, reference->width / cover->step_px, reference->height / cover->step_px);
    if (cover->crop_width > 0) {
        fprintf(out, "<rect class=\"crop\" x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\"/>",
                left + cover->crop_left / cover->step_px, top + cover->crop_top / cover->step_px,
                cover->crop_width / cover->step_px, cover->crop_height / cover->step_px);
    }
    draw_rim(out, cover);
    fprintf(out, "</svg>");
}
