#include "jobs/review_stack.h"

#include "stack/stack_write.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SHOT_PIXELS = 900 };

void review_stack_free(struct review_stack *stack)
{
    for (int i = 0; i < stack->page.shots; i++) {
        file_bytes_free(&stack->page.shot[i].jpeg);
    }
    night_stack_free(&stack->night);
    memset(stack, 0, sizeof *stack);
}

/* From one frame to all in even ratios. */
static int shot_at(const struct review_stack *stack, int shot)
{
    double share = (double)shot / (NIGHT_PAGE_SHOTS - 1);
    return (int)lround(pow(fmax(1, stack->frames), share));
}

static int shoot(struct review_stack *stack, struct error *err)
{
    struct night_page_shot *shot = &stack->page.shot[stack->page.shots];
    const struct stack_look look = {.largest = SHOT_PIXELS};
    *shot = (struct night_page_shot){.frames = stack->night.stack.frames};
    int code = stack_write_jpeg(&(struct file_target){"a stack", &shot->jpeg}, &stack->night.stack,
                                &look, err);
    stack->page.shots += !code;
    return code;
}

static int take_shot(void *context, struct night_stack *night, struct error *err)
{
    struct review_stack *stack = context;
    int shots = stack->page.shots, frames = night->stack.frames, next = 0;
    while (next < NIGHT_PAGE_SHOTS && shot_at(stack, next) < frames) {
        next++;
    }
    bool due = next < NIGHT_PAGE_SHOTS && shot_at(stack, next) == frames;
    bool taken = shots && stack->page.shot[shots - 1].frames == frames;
    return due && !taken && frames && shots < NIGHT_PAGE_SHOTS ? shoot(stack, err) : 0;
}

static bool is_stacked(enum judge_verdict verdict)
{
    return verdict == JUDGE_KEEP || verdict == JUDGE_DOUBTFUL;
}

static int read_all(struct review_stack *stack, const struct review *review,
                    const struct review_stack_work *work, struct error *err)
{
    const struct night_stack_reading how = {.solve = work->solve,
                                            .engine = work->engine,
                                            .control = work->control,
                                            .threads = work->threads,
                                            .taken = take_shot,
                                            .context = stack};
    struct night_stack_file *file = calloc((size_t)review->frames + 1, sizeof *file);
    if (!file) {
        return error_memory(err);
    }
    for (int i = 0; i < review->frames; i++) {
        const struct review_frame *f = &review->frame[i];
        file[i] = (struct night_stack_file){f->frame, f->frame->name,
                                            f->judgement.verdict == JUDGE_DROP ? f->judgement.cause
                                                                               : JUDGE_NOTHING};
        stack->frames += is_stacked(f->judgement.verdict);
    }
    int code = night_stack_read(&stack->night, file, review->frames, &how, err);
    free(file);
    return code;
}

int review_stack_make(struct review_stack *stack, const struct review *review,
                      const struct review_stack_work *work, struct error *err)
{
    night_stack_open(&stack->night, work->wish, work->engine, &review->target);
    stack->page.emergence = &stack->night.emergence;
    stack->night.emergence.planned = review->plan ? review->plan->snr_once : 0;
    stack->night.emergence.cadence_s = isfinite(review->cadence_s) ? review->cadence_s : 0;
    int code = read_all(stack, review, work, err);
    if (!code && job_is_cancelled(work->control)) {
        return error_set(err, ERROR_CANCELLED, "the stack was cancelled");
    }
    if (!code && stack->night.stack.frames) {
        int shots = stack->page.shots, frames = stack->night.stack.frames;
        night_stack_measure(&stack->night);
        if (shots < NIGHT_PAGE_SHOTS && (!shots || stack->page.shot[shots - 1].frames < frames)) {
            code = shoot(stack, err);
        }
        code = code ? code : night_stack_write(&stack->night, 0, true, err);
    }
    return code;
}
