/* What was read from any lines must be good for a review, and for a watch that takes the night up:
 * a run of these each time, so that it is much slower than fuzz_line. */
#include "fuzz_lines.h"
#include "jobs/watch_advice.h"
#include "night/night_known.h"
#include "night/night_unite.h"
#include "night/review.h"

/* As a watch does with the lines that its log holds. */
static void follow(const struct night_list *list)
{
    static const struct job_engine engine;
    static struct alerts alerts;
    const struct aim_wish wish = AIM_WISH_USUAL;
    struct aim_context context = {.wish = &wish, .engine = &engine};
    struct watch_advice advice = {.context = &context};
    struct alert told[ALERTS_MOST];
    struct night_step step;
    aim_target_radec(&context.target, 83.8, -5.4);
    alerts = (struct alerts){.wish = {.warn_frames = 10}};
    for (int i = 0; i < list->count; i++) {
        watch_advice_step(&step, &advice, &list->frame[i]);
        alerts_feed(told, &alerts, &list->frame[i], &step);
    }
}

static void judge(struct night_list *list)
{
    static struct review review;
    const struct judge_rules rules = judge_usual();
    char advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE], text[REVIEW_TEXT_SIZE];
    struct night_known known = {0};
    struct error err = {0};
    night_unite_names(list, 0, &err);
    night_unite_frames(list, &err);
    night_known_index(&known, list, &err);
    memset(&review, 0, sizeof review);
    if (review_make(&review, list, NULL, &rules, &err) == 0) {
        review_advise(advice, &review);
        review_write_answer(text, sizeof text, &review);
        review_write_crossed(text, sizeof text, &review);
        for (int i = 0; i < review.events; i++) {
            review_write_event(text, sizeof text, &review.event[i]);
        }
    }
    review_free(&review);
    night_known_free(&known);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct night_list list = {0};
    fuzz_read_list(&list, data, size);
    if (list.count > 0) {
        follow(&list);
        judge(&list);
    }
    night_list_free(&list);
    return 0;
}
