#include "jobs/night_clock.h"

#include "night/arrivals.h"
#include "sky/rates.h"

#include <math.h>
#include <string.h>

enum { MOST_ASKED = 25, FEWEST = 3 };
static const double most_share = 0.6, day_s = 86400, beside_day_s = 900, one_night_s = 43200;

void night_occasion(struct occasion *occasion, const struct night_frame *frame,
                    const struct rig *rig, const struct occasion_settings *settings)
{
    struct frame_facts facts;
    memset(&facts, 0, sizeof facts);
    facts.start_utc = frame->start_utc;
    facts.start_local = frame->start_local;
    snprintf(facts.camera, sizeof facts.camera, "%s", frame->camera ? frame->camera : "");
    if (frame->exposure_s > 0) {
        facts.exposure_s = (struct fact){frame->exposure_s, FACT_EXIF, "log"};
    }
    occasion_find(occasion, &facts, rig, settings);
}

/* When its file was written, seconds after the middle of its exposure; NAN: not known. */
static double written_after_s(const struct night_frame *frame, const struct occasion *occasion)
{
    const struct utc unix_epoch = {UNIX_EPOCH_JD, 0};
    return frame->modified_ns > 0
               ? time_between(occasion->mid, unix_epoch) + (double)frame->modified_ns * 1e-9
               : (double)NAN;
}

static void doubt_frame(struct clock_doubt *doubt, const struct night_frame *frame,
                        const struct rig *rig, const struct night_plan *plan)
{
    const struct aim_wish wish = {.level = false};
    const struct occasion_settings settings = OCCASION_USUAL;
    struct aim_sight sight = {0};
    *doubt = (struct clock_doubt){.by = CLOCK_DOUBT_NONE};
    night_occasion(&sight.occasion, frame, rig, &settings);
    if (night_frame_wcs(&sight.wcs, frame)) {
        /* A file of that night is of no plan of another one. */
        if (fabs(written_after_s(frame, &sight.occasion)) < one_night_s) {
            sight.occasion.today = sight.occasion.mid;
        }
        aim_clock_doubt(doubt, &sight, &wish, plan);
    }
}

static void doubt_sights(struct clock_doubt *doubt, const struct night_list *list,
                         const struct rig *rig, const struct night_plan *plan)
{
    int found[CLOCK_DOUBTS] = {0}, asked = 0;
    struct clock_doubt of[CLOCK_DOUBTS] = {{0}};
    int step = list->count / MOST_ASKED + 1;
    for (int i = step / 2; i < list->count; i += step) {
        struct clock_doubt here;
        if (list->frame[i].solved) {
            doubt_frame(&here, &list->frame[i], rig, plan);
            asked++;
            found[here.by]++;
            of[here.by] = here;
        }
    }
    for (int by = CLOCK_DOUBT_NONE + 1; by < CLOCK_DOUBTS; by++) {
        if (asked >= FEWEST && found[by] >= most_share * asked) {
            *doubt = of[by];
        }
    }
}

static void doubt_files(struct clock_doubt *doubt, const struct night_list *list,
                        const struct rig *rig)
{
    const struct occasion_settings settings = OCCASION_USUAL;
    struct arrivals arrivals = {0};
    int told = 0, off = 0;
    double lag_s, days = 0;
    for (int i = 0; i < list->count; i++) {
        struct occasion occasion;
        night_occasion(&occasion, &list->frame[i], rig, &settings);
        double after_s = written_after_s(&list->frame[i], &occasion);
        if (!occasion.has_utc || !isfinite(after_s)) {
            continue;
        }
        double taken_s = time_julian_date(occasion.mid) * day_s;
        arrivals_add(&arrivals, taken_s, taken_s + after_s);
        told++;
        if (arrivals_lag(&lag_s, &arrivals) && fabs(lag_s) > day_s - beside_day_s &&
            fabs(remainder(lag_s, day_s)) < beside_day_s) {
            off++;
            days = round(lag_s / day_s);
        }
    }
    if (off >= FEWEST && off >= most_share * (told - ARRIVALS_RECENT)) {
        clock_doubt_of_lag(doubt, days * day_s);
    }
}

void night_clock_doubt(struct clock_doubt *doubt, const struct night_list *list,
                       const struct rig *rig, const struct night_plan *plan)
{
    *doubt = (struct clock_doubt){.by = CLOCK_DOUBT_NONE};
    doubt_sights(doubt, list, rig, plan);
    if (doubt->by == CLOCK_DOUBT_NONE) {
        doubt_files(doubt, list, rig);
    }
}
