#include "base/parallel.h"
#include "jobs/night_stack.h"

#include <stdlib.h>

/* Of so many frames at the beginning one may be able to promise. */
enum { FIRST_FRAMES = 4 };

/* A frame that is read once more. */
struct reading {
    const struct night_stack_file *file;
    const struct night_stack_reading *how;
    struct solved_frame solved;
    struct error err;
    int code;
    bool promises; /* nothing is promised yet */
};

static bool is_for_correction(const struct night_frame *frame)
{
    return !frame->solved &&
           (frame->health.look.kind == KIND_DARK || frame->health.look.kind == KIND_FLAT);
}

/* Where it points is known about; where exactly, its line does not say. */
static void read_item(int item, void *context)
{
    struct reading *r = (struct reading *)context + item;
    const struct night_frame *frame = r->file->frame;
    const struct picture_source picture = picture_source_file(r->file->path);
    struct solve_wish wish = *r->how->solve;
    struct solve_before before = {.known = frame->pose.focal_px > 0,
                                  .mirrored = frame->mirrored,
                                  .scale_arcsec = frame->scale_arcsec};
    night_frame_pose(&before.pose, frame);
    wish.before = &before;
    wish.want_health = r->promises; /* which takes more than the line keeps */
    wish.keep_planes = true;
    if (job_is_cancelled(r->how->control)) {
        r->code = ERROR_CANCELLED;
    } else if (r->file->lost != JUDGE_NOTHING) {
        r->code = 0;
    } else if (is_for_correction(frame)) {
        const struct frame_options how = {.reader = r->how->engine->reader,
                                          .max_plane_pixels = JOB_PLANE_PIXELS};
        r->code = frame_read_from(&r->solved.frame, &picture, &how, &r->err);
    } else {
        r->code = job_solve(&r->solved, r->how->engine, &picture, &wish, NULL, &r->err);
    }
}

static int take(struct night_stack *night, struct reading *r, struct error *err)
{
    struct night_frame unread = {.read = false};
    if (r->code == ERROR_MEMORY) {
        return error_memory(err);
    }
    if (r->file->lost != JUDGE_NOTHING || (r->code && is_for_correction(r->file->frame))) {
        if (r->file->lost != JUDGE_NOTHING) {
            night_stack_lose(night, r->file->lost);
        }
        return 0;
    }
    return r->code ? night_stack_take(night, &unread, NULL, err)
                   : night_stack_take(night, r->file->frame, &r->solved, err);
}

/* So many frames side by side, then one after the other into the stack. */
static int read_some(struct night_stack *night, const struct night_stack_file *const *file,
                     int count, const struct night_stack_reading *how, struct error *err)
{
    struct reading *reading = calloc((size_t)count, sizeof *reading);
    int code = reading ? 0 : error_memory(err);
    for (int i = 0; reading && i < count; i++) {
        reading[i].file = file[i];
        reading[i].how = how;
        reading[i].promises = !night->emergence.has_promise && night->stack.frames < FIRST_FRAMES;
    }
    if (!code) {
        parallel_each(count, count, read_item, reading);
    }
    for (int i = 0; !code && i < count && reading[i].code != ERROR_CANCELLED; i++) {
        code = take(night, &reading[i], err);
        code = code || !how->taken ? code : how->taken(how->context, night, err);
    }
    for (int i = 0; reading && i < count; i++) {
        solved_frame_free(&reading[i].solved);
    }
    free(reading);
    return code;
}

/* Those for correction first. */
static void sort_files(const struct night_stack_file **sorted, const struct night_stack_file *file,
                       int files)
{
    int count = 0;
    for (int round = 0; round < 2; round++) {
        for (int i = 0; i < files; i++) {
            if (is_for_correction(file[i].frame) == (round == 0)) {
                sorted[count++] = &file[i];
            }
        }
    }
}

int night_stack_read(struct night_stack *night, const struct night_stack_file *file, int files,
                     const struct night_stack_reading *how, struct error *err)
{
    const struct night_stack_file **sorted = calloc((size_t)files + 1, sizeof *sorted);
    int threads = how->threads > 0 ? how->threads : parallel_processors();
    int code = sorted ? 0 : error_memory(err), was = night->threads;
    night->threads = threads;
    if (!code) {
        sort_files(sorted, file, files);
    }
    for (int i = 0; !code && i < files && !job_is_cancelled(how->control); i += threads) {
        int count = files - i < threads ? files - i : threads;
        code = read_some(night, sorted + i, count, how, err);
        job_progress(how->control, i + count, files);
    }
    night->threads = was;
    free(sorted);
    return code;
}
