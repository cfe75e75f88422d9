#include "jobs/aim_answer.h"

#include "jobs/batch_advice.h"
#include "jobs/target.h"
#include "sky/sun_moon.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* A tripod stands for one night. */
static const double one_night_s = 43200;

void aim_head_find(struct aim_head *head, const struct rig_head *rig,
                   const struct occasion *occasion)
{
    *head = (struct aim_head){.error_deg = NAN};
    if (!rig) {
        return;
    }
    head->name = rig->entry.name;
    head->tilt_assumed = rig->learned.known && rig->skew_deg == 0 && rig->squint_deg == 0;
    head->error_deg = head->tilt_assumed ? NAN : rig->error_deg;
    head->head =
        (struct head){rig->lean_east_deg, rig->lean_north_deg, rig->skew_deg, rig->squint_deg};
    if (rig->learned.known && fabs(time_between(rig->learned.utc, occasion->mid)) > one_night_s) {
        head->lean_stale = true;
        head->head.lean_east_deg = head->head.lean_north_deg = 0;
    }
}

static bool sun_is_up(double *altitude_deg, const struct occasion *occasion)
{
    struct sun_moon_position sun;
    if (!occasion_has_horizon(occasion) ||
        !sun_moon_from_place(&sun, THE_SUN, &occasion->place, occasion->mid)) {
        return false;
    }
    *altitude_deg = sun.altitude_deg;
    return sun_guard_is_day(sun.altitude_deg);
}

/* A clock without a zone is good to a day, in which the Sun moves by a degree. */
static bool is_sun_there(const struct aim_target *target, const struct occasion *occasion)
{
    const double near_deg = 3;
    double v[3], sun[3], distance_au;
    ellipse_direction(v, &target->shape, 0, 0);
    return occasion->has_time && sun_moon_from_earth(sun, &distance_au, THE_SUN, occasion->mid) &&
           vector_angle_deg(v, sun) < near_deg;
}

/* Until frames show it: as planned, whatever the exposure of a test frame. */
static void find_cadence(struct aim_answer *answer, const struct aim_context *context,
                         double cadence_s)
{
    const double usual_pause_s = 1;
    const double typed_s = context->wish->cadence_s;
    answer->cadence_s = typed_s > 0 ? typed_s : cadence_s;
    if (!(answer->cadence_s > 0) && context->plan) {
        answer->cadence_s = night_plan_every_s(context->plan);
        answer->every_planned = true;
    } else if (!(answer->cadence_s > 0) && answer->occasion.exposure_s > 0) {
        answer->cadence_s = answer->occasion.exposure_s + usual_pause_s;
        answer->every_guessed = true;
    }
}

/* One that was taken a moment ago is of this night, whatever was planned. */
static void doubt_by_plan(struct clock_doubt *doubt, const struct occasion *occasion,
                          const struct night_plan *plan)
{
    bool now =
        occasion->today.day > 0 && fabs(time_between(occasion->mid, occasion->today)) < one_night_s;
    if (plan && plan->from.known && plan->until.known && !now) {
        clock_doubt_of_plan(doubt, time_between(plan->from.utc, occasion->mid),
                            time_between(plan->until.utc, occasion->mid));
    }
}

void aim_clock_doubt(struct clock_doubt *doubt, const struct aim_sight *sight,
                     const struct aim_wish *wish, const struct night_plan *plan)
{
    const struct utc *today = sight->occasion.today.day > 0 ? &sight->occasion.today : NULL;
    struct ground ground;
    struct stand stand;
    *doubt = (struct clock_doubt){.by = CLOCK_DOUBT_NONE};
    if (sight->occasion.has_utc && occasion_ground(&ground, &sight->occasion, true)) {
        stand_make(&stand, &sight->wcs, &ground);
        clock_doubt_find(doubt, &stand, today,
                         wish->level ? wish->level_deg : CLOCK_DOUBT_HELD_DEG);
    }
    if (sight->occasion.has_utc && doubt->by == CLOCK_DOUBT_NONE) {
        doubt_by_plan(doubt, &sight->occasion, plan);
    }
}

bool aim_answer_is_refused(const struct aim_answer *answer)
{
    return answer->sun_there || answer->no_when;
}

void aim_answer_error(struct advice_error *error, const struct aim_answer *answer)
{
    advice_error_find(error, &answer->advice, &answer->stand, &answer->head.head, &answer->target,
                      &answer->wish, &answer->doubt);
}

/* Of a target whose place is known. */
static void advise(struct aim_answer *answer, const struct aim_sight *sight,
                   const struct aim_context *context, double cadence_s)
{
    const struct aim_wish *wanted = context->wish;
    struct ground ground;
    double to[3];
    answer->daylight = sun_is_up(&answer->sun_deg, &sight->occasion);
    if (!occasion_ground(&ground, &sight->occasion, !answer->daylight)) {
        occasion_ground(&ground, &sight->occasion, false);
    }
    stand_make(&answer->stand, &sight->wcs, &ground);
    aim_clock_doubt(&answer->clock_doubt, sight, wanted, context->plan);
    aim_head_find(&answer->head, context->engine->rig.rig.head, &sight->occasion);
    find_cadence(answer, context, cadence_s);
    ellipse_direction(to, &context->target.shape, 0, 0);
    hiding_find(&answer->hiding, answer->occasion.skyline, &ground, to, ADVICE_FARTHEST);
    double exposure_s =
        answer->every_planned ? context->plan->exposure_s : sight->occasion.exposure_s;
    const struct batch_sight batch = {&answer->stand, &answer->head.head, exposure_s,
                                      answer->cadence_s, hiding_visible_s(&answer->hiding)};
    answer->has_length = batch_advise(&answer->length, &batch, context);
    bool led = answer->has_length && !wanted->centre;
    answer->wish = (struct advice_wish){.margin = wanted->margin_percent / 100,
                                        .cadence_s = answer->cadence_s,
                                        .batch = led ? (int)answer->length.frames : 0,
                                        .settle_s = wanted->settle_s,
                                        .smear_px = answer->length.accepted_px};
    advice_find(&answer->advice, &answer->stand, &answer->head.head, &context->target,
                &answer->wish);
    answer->doubt = sight->doubt;
    answer->doubt.head_deg = isfinite(answer->head.error_deg) ? answer->head.error_deg : 0;
    answer->has_clock_fault =
        wanted->level && ground.has_place &&
        clock_from_level(&answer->clock_fault, &answer->stand, wanted->level_deg);
}

void aim_answer_from_sight(struct aim_answer *answer, const struct aim_sight *sight,
                           const struct aim_context *context, double cadence_s)
{
    struct aim_context here = *context;
    memset(answer, 0, sizeof *answer);
    answer->occasion = sight->occasion;
    answer->no_when = !target_at(&here.target, &sight->occasion);
    answer->target = here.target;
    answer->sun_there = !answer->no_when && is_sun_there(&here.target, &sight->occasion);
    if (!aim_answer_is_refused(answer)) {
        advise(answer, sight, &here, cadence_s);
    }
}

void aim_sight_of(struct aim_sight *sight, const struct solution *solution)
{
    double middle_deg = solution->middle_error_px * wcs_scale_arcsec(&solution->wcs) / 3600;
    *sight = (struct aim_sight){.wcs = solution->wcs};
    if (isfinite(middle_deg) && isfinite(solution->turn_error_deg)) {
        sight->doubt = (struct advice_doubt){.middle_deg = middle_deg,
                                             .turn_deg = solution->turn_error_deg,
                                             .scale = solution->scale_error};
    }
}

void aim_answer_find(struct aim_answer *answer, const struct solved_frame *solved,
                     const struct aim_context *context, double cadence_s)
{
    struct aim_sight sight;
    struct head_move move;
    aim_sight_of(&sight, &solved->solution);
    occasion_find(&sight.occasion, &solved->frame.facts, &context->engine->rig.rig,
                  &context->wish->occasion);
    aim_answer_from_sight(answer, &sight, context, cadence_s);
    if (aim_answer_is_refused(answer)) {
        return;
    }
    aim_prove(&answer->advice.aim, &answer->target, &sight.wcs, &solved->solution.trust);
    int stars =
        cue_stars(answer->star, &solved->solution, solved->index, &context->engine->atlas.objects);
    move = *advice_move(&answer->advice);
    answer->has_cue = cue_find(&answer->cue, answer->star, stars, &answer->stand, move.turn);
}
