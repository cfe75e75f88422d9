#include "jobs/job_aim.h"

#include "jobs/aim_depth.h"
#include "jobs/target.h"

#include <string.h>

int job_aim_find_target(struct aim_target *target, const struct job_engine *engine,
                        const char *name, struct error *err)
{
    return target_find(target, &engine->atlas.objects, name, err);
}

struct aim_context job_aim_context(const struct job_engine *engine, const struct job_aim_wish *wish)
{
    return (struct aim_context){&wish->aim, engine, wish->target, wish->plan};
}

static void advise(struct job_aim_result *result, const struct aim_context *context)
{
    aim_answer_find(&result->answer, &result->solved, context, 0);
    if (aim_depth_wanted(context->wish) && !aim_answer_is_refused(&result->answer)) {
        aim_depth_find(&result->answer, &result->solved, context);
    }
}

int job_aim(struct job_aim_result *result, const struct job_engine *engine,
            const struct picture_source *picture, const struct job_aim_wish *wish,
            const struct job_control *control, struct error *err)
{
    const struct aim_context context = job_aim_context(engine, wish);
    struct solve_wish solve = wish->solve;
    memset(result, 0, sizeof *result);
    solve.want_health = solve.want_health || aim_depth_wanted(&wish->aim);
    int code = job_solve(&result->solved, engine, picture, &solve, control, err);
    if (!code && result->solved.solution.solved) {
        advise(result, &context);
    }
    return code;
}

void job_aim_free(struct job_aim_result *result)
{
    solved_frame_free(&result->solved);
    memset(result, 0, sizeof *result);
}
