#include "night/review_parts.h"

#include "base/median.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void review_free(struct review *review)
{
    free(review->frame);
    memset(review, 0, sizeof *review);
}

/* Frames without a time follow the others. */
static int compare_frames(const void *left, const void *right)
{
    const struct review_frame *a = left, *b = right;
    bool known_a = isfinite(a->time_s), known_b = isfinite(b->time_s);
    if (known_a != known_b) {
        return known_a ? -1 : 1;
    }
    if (known_a && a->time_s < b->time_s) {
        return -1;
    }
    if (known_a && a->time_s > b->time_s) {
        return 1;
    }
    return strcmp(a->frame->name, b->frame->name);
}

/* The clock that most frames have, so that one file without EXIF does not stretch the night. */
static enum night_clock usual_clock(const struct night_list *list)
{
    int count[NIGHT_CLOCK_UTC + 1] = {0}, best = NIGHT_CLOCK_NONE;
    struct utc utc;
    for (int i = 0; i < list->count; i++) {
        count[night_frame_start(&utc, &list->frame[i])]++;
    }
    for (int clock = NIGHT_CLOCK_FILE; clock <= NIGHT_CLOCK_UTC; clock++) {
        best = count[clock] > 0 && count[clock] >= count[best] ? clock : best;
    }
    return (enum night_clock)best;
}

static int put_in_order(struct review *review, struct night_list *list, struct error *err)
{
    review->frame = calloc((size_t)list->count + 1, sizeof *review->frame);
    if (!review->frame) {
        return error_memory(err);
    }
    review->frames = list->count;
    review->clock = usual_clock(list);
    bool any = false;
    for (int i = 0; i < list->count; i++) {
        struct utc utc;
        review->frame[i].frame = &list->frame[i];
        review->frame[i].time_s = (double)NAN;
        if (review->clock && night_frame_start(&utc, &list->frame[i]) == review->clock) {
            review->start = any ? review->start : utc;
            any = true;
            review->frame[i].time_s = time_between(review->start, utc);
        }
    }
    qsort(review->frame, (size_t)review->frames, sizeof *review->frame, compare_frames);
    if (any) { /* the first one in time is the beginning */
        double first = review->frame[0].time_s;
        review->start = time_add(review->start, first);
        for (int i = 0; i < review->frames && isfinite(review->frame[i].time_s); i++) {
            const struct review_frame *f = &review->frame[i];
            review->frame[i].time_s -= first;
            review->length_s = fmax(review->length_s, f->time_s + f->frame->exposure_s);
        }
    }
    return 0;
}

/* What stands for a target that was not named: the mean of where the frames point. */
static bool middle_of_frames(struct aim_target *target, const struct night_list *list)
{
    double sum[3] = {0}, v[3], ra, dec;
    for (int i = 0; i < list->count; i++) {
        if (list->frame[i].solved) {
            vector_from_radec(v, list->frame[i].ra_deg, list->frame[i].dec_deg);
            for (int k = 0; k < 3; k++) {
                sum[k] += v[k];
            }
        }
    }
    if (!(vector_dot(sum, sum) > 0)) {
        return false;
    }
    vector_to_radec(&ra, &dec, sum);
    aim_target_radec(target, ra, dec);
    return true;
}

static void judge_all(struct review *review)
{
    for (int i = 0; i < review->frames; i++) {
        struct review_frame *f = &review->frame[i];
        const struct night_frame *frame = f->frame;
        struct judgement *j = &f->judgement;
        judge_frame(j, frame, &review->usual, &review->rules);
        review->count[j->verdict]++;
        review->unread_device += !frame->read && frame->unread == CAUSE_DEVICE;
        if (j->verdict == JUDGE_DOUBTFUL || j->verdict == JUDGE_DROP) {
            review->by_cause[j->cause]++;
        }
        if (j->verdict == JUDGE_APART) {
            review->kind[frame->health.look.kind]++;
        } else if (frame->read) {
            review->light_s += frame->exposure_s;
        }
    }
}

static void place_targets(struct review *review)
{
    for (int i = 0; i < review->frames; i++) {
        struct review_frame *f = &review->frame[i];
        struct wcs wcs;
        f->x = f->y = (double)NAN;
        if (night_frame_wcs(&wcs, f->frame)) {
            bool own = f->frame->target.name[0]; /* it may move */
            wcs_pixel_radec(&f->x, &f->y, &wcs,
                            own ? f->frame->target.ra_deg : review->target.shape.ra_deg,
                            own ? f->frame->target.dec_deg : review->target.shape.dec_deg);
        }
    }
}

static void add_time(struct review *review, const struct review_frame *f)
{
    double seconds = f->frame->exposure_s;
    double column = REVIEW_CELLS * (f->x + 0.5) / f->frame->width;
    double row = REVIEW_CELLS * (f->y + 0.5) / f->frame->height;
    review->kept_s += seconds;
    if (column >= 0 && column < REVIEW_CELLS && row >= 0 && row < REVIEW_CELLS) {
        review->target_s[(int)row][(int)column] += seconds;
    } else {
        review->outside_s += seconds;
    }
}

static void add_times(struct review *review)
{
    for (int i = 0; i < review->frames; i++) {
        if (review->frame[i].judgement.verdict == JUDGE_KEEP) {
            add_time(review, &review->frame[i]);
        }
    }
}

/* Exposures that differ by less are alike. */
static const double alike_share = 0.02;

/* Whether a dark frame serves for lights of that exposure and ISO. */
static bool serves(const struct review_need *need, const struct night_frame *frame)
{
    return fabs(frame->exposure_s - need->exposure_s) <= alike_share * need->exposure_s &&
           (frame->iso == need->iso || need->iso == 0 || frame->iso == 0);
}

static struct review_need *find_need(struct review *review, const struct night_frame *frame)
{
    for (int i = 0; i < review->needs; i++) {
        struct review_need *need = &review->need[i];
        if (fabs(frame->exposure_s - need->exposure_s) <= alike_share * need->exposure_s &&
            frame->iso == need->iso) {
            return need;
        }
    }
    return NULL;
}

static void count_needs(struct review *review)
{
    for (int i = 0; i < review->frames; i++) {
        const struct night_frame *frame = review->frame[i].frame;
        if (!frame->solved || frame->exposure_s <= 0) {
            continue;
        }
        struct review_need *need = find_need(review, frame);
        if (!need && review->needs < REVIEW_MOST_NEEDS) {
            need = &review->need[review->needs++];
            *need = (struct review_need){.exposure_s = frame->exposure_s, .iso = frame->iso};
        }
        if (need) {
            need->lights++;
        }
    }
    for (int i = 0; i < review->frames; i++) {
        const struct review_frame *f = &review->frame[i];
        bool dark = f->judgement.verdict == JUDGE_APART && f->frame->health.look.kind == KIND_DARK;
        for (int k = 0; dark && k < review->needs; k++) {
            review->need[k].darks += serves(&review->need[k], f->frame);
        }
    }
}

static void complete(struct judge_limit *limit, const struct judge_limit *usual)
{
    limit->doubtful = limit->doubtful > 0 ? limit->doubtful : usual->doubtful;
    limit->drop = limit->drop > 0 ? limit->drop : usual->drop;
}

static void complete_rules(struct judge_rules *rules, const struct judge_rules *given)
{
    const struct judge_rules usual = judge_usual();
    *rules = given ? *given : usual;
    complete(&rules->stars, &usual.stars);
    complete(&rules->width, &usual.width);
    complete(&rules->length, &usual.length);
    complete(&rules->sky, &usual.sky);
    complete(&rules->target, &usual.target);
}

/* What moves is where it stood in that frame, seen from the Earth's centre; where the camera's zone
 * is not known it moves by little, but for the Moon. */
static void aim_frame(struct night_frame *frame, const struct aim_target *target)
{
    struct aim_target there = *target;
    struct utc start;
    enum night_clock clock = target->moves ? night_frame_start(&start, frame) : NIGHT_CLOCK_NONE;
    bool known =
        clock == NIGHT_CLOCK_UTC || (clock == NIGHT_CLOCK_LOCAL && target->moves != WANDERER_MOON);
    if (target->moves) {
        frame->target = (struct night_target){0};
    }
    if (!target->moves || (known && aim_target_follow(&there, NULL, start))) {
        night_frame_aim(frame, &there);
    }
}

/* What moves gets the place where it was at first; without a time there is no such target. */
static void settle_target(struct review *review, const struct night_list *list)
{
    bool timed = review->clock == NIGHT_CLOCK_UTC || review->clock == NIGHT_CLOCK_LOCAL;
    if (review->target.moves &&
        !(timed && aim_target_follow(&review->target, NULL, review->start))) {
        review->has_target = false;
        middle_of_frames(&review->target, list);
    }
}

int review_make(struct review *review, struct night_list *list, const struct aim_target *target,
                const struct judge_rules *rules, struct error *err)
{
    memset(review, 0, sizeof *review);
    complete_rules(&review->rules, rules);
    review->has_target = target != NULL;
    review->reference = -1;
    review->copies = &list->copies;
    if (target) {
        review->target = *target;
        for (int i = 0; i < list->count; i++) {
            aim_frame(&list->frame[i], target);
        }
    } else {
        middle_of_frames(&review->target, list);
        for (int i = 0; i < list->count; i++) {
            list->frame[i].target = (struct night_target){0};
        }
    }
    int code = judge_find_usual(&review->usual, list->frame, list->count, err);
    if (!code) {
        code = put_in_order(review, list, err);
    }
    if (!code) {
        settle_target(review, list);
        judge_all(review);
        place_targets(review);
        add_times(review);
        count_needs(review);
        review_find_events(review);
        review_find_crossings(review);
        code = review_find_cover(review, err);
    }
    return code;
}
