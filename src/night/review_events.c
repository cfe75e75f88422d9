#include "night/review_parts.h"

#include "base/median.h"
#include "base/text.h"
#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const double gap_intervals = 5, shortest_gap_s = 20;

/* How far off the start of a frame may be by its clock: whole seconds of a camera's, and of a file
 * that was written some time after. */
static const double clock_error_s = 1.5, file_clock_error_s = 4;
/* A tripod that nobody touches moves less. */
static const double touched_px = 4;

/* A camera was turned on purpose if the target came nearer to the middle by this part of the
 * picture, or went back by so much of its width, and less than 45 degrees off, against the drift.
 */
static const double nearer_part = 0.05, back_part = 0.05, back_cosine = 0.7;

/* Frames with a fault that are an event, and good ones after which it is over. */
enum { RUN_BEGINS = 2, RUN_ENDS = 2 };

static void add_event(struct review *review, enum review_event_kind kind, int first, int last,
                      double amount)
{
    if (review->events < REVIEW_MOST_EVENTS) {
        review->event[review->events++] =
            (struct review_event){.kind = kind, .first = first, .last = last, .amount = amount};
    }
}

/* Where a camera looks and which way is up, as two unit vectors, turned with the Earth. */
static void look(double out[3], double up[3], const struct night_frame *frame, double turned_deg)
{
    double ra, dec;
    vector_from_radec(out, frame->ra_deg + turned_deg, frame->dec_deg);
    radec_offset(&ra, &dec, frame->ra_deg, frame->dec_deg, frame->up_angle_deg, 90);
    vector_from_radec(up, ra + turned_deg, dec);
}

/* How far the camera was turned between two frames in which the Earth turned by so much, degrees. A
 * turn about the line of sight counts by what it moves at the picture's side. */
static double moved_deg(const struct night_frame *a, const struct night_frame *b, double turned_deg)
{
    double was[3], was_up[3], now[3], now_up[3];
    look(was, was_up, a, turned_deg);
    look(now, now_up, b, 0);
    double turn = vector_angle_deg(was_up, now_up) * RAD_PER_DEG * 0.5 * a->field_width_deg;
    return hypot(vector_angle_deg(was, now), turn);
}

/* More than clocks that count whole seconds explain. */
static double touch_limit_deg(const struct review *review, const struct night_frame *frame)
{
    double clock_s = review->clock == NIGHT_CLOCK_FILE ? file_clock_error_s : clock_error_s;
    return clock_s * SIDEREAL_DEG_S + touched_px * frame->scale_arcsec / 3600;
}

static double from_middle(const struct review_frame *f)
{
    return hypot(f->x / f->frame->width - 0.5, f->y / f->frame->height - 0.5);
}

/* Whether the camera took the target back against the drift of the batch before, by more than a
 * slip. A batch that is aimed ahead begins as far from the middle as the one before it ended. */
static bool goes_back(const struct review *review, int before, int now)
{
    const struct review_frame *last = &review->frame[before], *b = &review->frame[now];
    int start = before;
    while (start > 0 && review->frame[start - 1].batch == last->batch) {
        start--;
    }
    while (start < before && !isfinite(review->frame[start].x)) {
        start++;
    }
    const struct review_frame *first = &review->frame[start];
    double seconds = last->time_s - first->time_s, gap_s = b->time_s - last->time_s;
    double drift_x = (last->x - first->x) / seconds, drift_y = (last->y - first->y) / seconds;
    double x = b->x - last->x - drift_x * gap_s, y = b->y - last->y - drift_y * gap_s;
    double length = hypot(x, y);
    double along = (x * drift_x + y * drift_y) / (length * hypot(drift_x, drift_y));
    return along < -back_cosine && length > back_part * b->frame->width;
}

static void note_move(struct review *review, int before, int now, double degrees)
{
    const struct review_frame *a = &review->frame[before], *b = &review->frame[now];
    double better = from_middle(a) - from_middle(b);
    bool meant = better > nearer_part || goes_back(review, before, now);
    add_event(review, meant ? REVIEW_RECENTRED : REVIEW_KNOCKED, now, now, degrees);
    review->batches++;
}

/* Intervals of which most are usual. */
static double usual_cadence(const struct review *review)
{
    double *value = malloc(((size_t)review->frames + 1) * sizeof *value);
    int count = 0;
    for (int i = 1; value && i < review->frames; i++) {
        double step = review->frame[i].time_s - review->frame[i - 1].time_s;
        bool lights = review->frame[i].frame->solved && review->frame[i - 1].frame->solved;
        if (lights && step > 0) {
            value[count++] = step;
        }
    }
    double median = value ? median_middle(value, count) : (double)NAN;
    free(value);
    return median;
}

/* Goes from one solved frame to the next. */
static void find_moves(struct review *review)
{
    int last = -1;
    double limit_s = fmax(shortest_gap_s, gap_intervals * review->cadence_s);
    for (int i = 0; i < review->frames; i++) {
        struct review_frame *f = &review->frame[i];
        f->batch = review->batches - 1;
        if (!f->frame->solved) {
            continue;
        }
        if (last < 0) {
            review->batches = 1;
        } else if (isfinite(f->time_s)) {
            const struct review_frame *before = &review->frame[last];
            double turned = (f->time_s - before->time_s) * SIDEREAL_DEG_S;
            double moved = moved_deg(before->frame, f->frame, turned);
            double missed = f->time_s - review->frame[i - 1].time_s;
            double limit = touch_limit_deg(review, f->frame);
            /* A mount that follows the sky stays on it, and was not touched either. */
            if (moved > limit && moved_deg(before->frame, f->frame, 0) > limit) {
                note_move(review, last, i, moved);
            } else if (missed > limit_s) {
                add_event(review, REVIEW_GAP, i, i, missed);
            }
        }
        f->batch = review->batches - 1;
        last = i;
    }
}

static double usual_drift(const struct review *review)
{
    double *value = malloc(((size_t)review->frames + 1) * sizeof *value);
    int count = 0;
    for (int i = 1; value && i < review->frames; i++) {
        const struct review_frame *a = &review->frame[i - 1], *b = &review->frame[i];
        double step = hypot(b->x - a->x, b->y - a->y) / (b->time_s - a->time_s);
        if (a->batch == b->batch && isfinite(step)) {
            value[count++] = step;
        }
    }
    double median = value ? median_middle(value, count) : (double)NAN;
    free(value);
    return median;
}

/* The number that a run of frames was doubted for, as a share of the usual. */
static double share_of(const struct review *review, const struct review_frame *f,
                       enum review_event_kind kind)
{
    switch (kind) {
    case REVIEW_CLOUD:
        return f->frame->detected / review->usual.stars;
    case REVIEW_FOCUS:
        return f->frame->health.fwhm_px / review->usual.width_px;
    case REVIEW_TRAILS:
        return judge_length(f->frame) / review->usual.length_px;
    default:
        return judge_sky(f->frame) / review->usual.sky;
    }
}

static bool has_cause(const struct review_frame *f, enum review_event_kind kind)
{
    enum judge_cause cause = f->judgement.cause;
    switch (kind) {
    case REVIEW_CLOUD:
        return cause == JUDGE_STARS || cause == JUDGE_PARTS || cause == JUDGE_UNSOLVED;
    case REVIEW_FOCUS:
        return cause == JUDGE_WIDTH;
    case REVIEW_TRAILS:
        return cause == JUDGE_LENGTH || cause == JUDGE_BLUR;
    default:
        return cause == JUDGE_SKY;
    }
}

static void find_runs(struct review *review, enum review_event_kind kind)
{
    int first = -1, last = -1, bad = 0, good = 0;
    double worst = (double)NAN;
    for (int i = 0; i <= review->frames; i++) {
        bool end = i == review->frames;
        const struct review_frame *f = &review->frame[end ? 0 : i];
        if (!end && f->judgement.verdict == JUDGE_APART) {
            continue;
        }
        if (!end && has_cause(f, kind)) {
            double share = share_of(review, f, kind);
            first = first < 0 ? i : first;
            worst = kind == REVIEW_CLOUD ? fmin(worst, share) : fmax(worst, share);
            last = i;
            bad++;
            good = 0;
        } else if (first >= 0 && (end || ++good >= RUN_ENDS)) {
            if (bad >= RUN_BEGINS) {
                add_event(review, kind, first, last, worst);
            }
            first = last = -1;
            bad = good = 0;
            worst = (double)NAN;
        }
    }
}

static int compare_events(const void *left, const void *right)
{
    const struct review_event *a = left, *b = right;
    int order = (a->first > b->first) - (a->first < b->first);
    return order ? order : (a->kind > b->kind) - (a->kind < b->kind);
}

void review_find_events(struct review *review)
{
    review->cadence_s = usual_cadence(review);
    find_moves(review);
    review->drift_px_s = usual_drift(review);
    find_runs(review, REVIEW_CLOUD);
    find_runs(review, REVIEW_FOCUS);
    find_runs(review, REVIEW_TRAILS);
    find_runs(review, REVIEW_SKY);
    qsort(review->event, (size_t)review->events, sizeof *review->event, compare_events);
}

void review_write_event(char *out, size_t size, const struct review_event *event)
{
    char text[40];
    switch (event->kind) {
    case REVIEW_RECENTRED:
    case REVIEW_KNOCKED:
        text_write_angle(text, sizeof text, event->amount);
        snprintf(out, size,
                 event->kind == REVIEW_RECENTRED ? "re-centred by %s"
                                                 : "the tripod was moved by %s",
                 text);
        return;
    case REVIEW_GAP:
        review_write_duration(text, sizeof text, event->amount);
        snprintf(out, size, "no frame for %s", text);
        return;
    case REVIEW_CLOUD:
        snprintf(out, size, "cloud or haze, down to %.0f %% of the usual stars",
                 100 * event->amount);
        return;
    case REVIEW_FOCUS:
        snprintf(out, size, "out of focus or dew, stars up to %.2g times as wide as usual",
                 event->amount);
        return;
    case REVIEW_TRAILS:
        snprintf(out, size, "the camera shook, stars up to %.2g times as long as usual",
                 event->amount);
        return;
    case REVIEW_SKY:
        snprintf(out, size, "bright sky, up to %.2g times the usual", event->amount);
        return;
    case REVIEW_EVENTS:
        break;
    }
    out[0] = '\0';
}
