#include "jobs/batch_advice.h"

#include <math.h>

/* The picture after the head was turned to the target. */
static void find_turned(struct wcs *turned, const struct stand *stand, const struct head *head,
                        const struct aim_target *target)
{
    struct head_axes axes;
    struct head_move move;
    double seen[3];
    ellipse_direction(seen, &target->shape, 0, 0);
    ground_from_sky(seen, &stand->ground, seen, 0);
    if (stand->ground.has_place) {
        head_axes(&axes, head, &stand->view);
    } else {
        head_axes_of_camera(&axes, &stand->view);
    }
    head_reach(&move, &axes, &stand->view, seen);
    stand_turned_wcs(turned, stand, move.turn);
}

bool batch_advise(struct batch_length *batch, const struct batch_sight *sight,
                  const struct aim_context *context)
{
    const struct night_plan *plan = context->plan;
    const struct aim_wish *wanted = context->wish;
    struct batch_wish wish = {.exposure_s = sight->exposure_s,
                              .cadence_s = sight->cadence_s,
                              .decided = wanted->batch,
                              .accept = plan ? plan->accept : wanted->accept};
    const struct rig_lens *lens = context->engine->rig.rig.lens;
    struct wcs turned;
    if (!(sight->cadence_s > 0)) {
        return false;
    }
    if (!plan && lens && lens->star_px > 0) {
        wish.accept.star_px = lens->star_px;
    }
    if (!wanted->batch && isfinite(sight->visible_s)) {
        wish.visible_s = fmax(0, sight->visible_s - wanted->settle_s);
    }
    find_turned(&turned, sight->stand, sight->head, &context->target);
    if (plan && !wanted->batch) {
        wish.decided = night_plan_batch(plan, sight->cadence_s);
    }
    batch_length_find(batch, &turned, sight->stand->ground.utc, &context->target.shape, &wish);
    if (plan && !wanted->batch && batch->limit != BATCH_BY_SKYLINE) {
        batch->limit = (enum batch_limit)plan->limit;
        batch->group_frames = plan->group_frames;
    }
    return true;
}
