#include "cli/frame_solver.h"

#include "cli/index_place.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

/* Enough for the stars of any lens: 24 megapixels are binned 2 x 2. */
static const long most_plane_pixels = 8000000;

int solver_open(struct solver *solver, const char *index, const struct hint_settings *hints,
                struct error *err)
{
    char place[4096];
    memset(solver, 0, sizeof *solver);
    solver->hints = hints;
    int code = hints_check(hints, err);
    if (!code) {
        code = rig_open(&solver->rig, &hints->rig, err);
    }
    if (!code) {
        code = index_place(place, sizeof place, index, err);
    }
    return code ? code : index_open(&solver->index, place, err);
}

void solver_close(struct solver *solver)
{
    index_close(&solver->index);
    memset(solver, 0, sizeof *solver);
}

static double now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

static int judge_health(struct solved_frame *solved, const struct star_list *stars,
                        const struct solver *solver, struct error *err)
{
    const struct health_input input = {.frame = &solved->frame,
                                       .list = stars,
                                       .solution = &solved->solution,
                                       .index = &solver->index.index};
    double start = now_ms();
    int code = health_measure(&solved->health, &input, NULL, err);
    solved->health_ms = now_ms() - start;
    return code;
}

static int solve_read_frame(struct solved_frame *solved, const struct solver *solver,
                            struct error *err)
{
    struct star_list stars = {0};
    hints_apply(&solved->options, &solved->hints, &solved->frame, solver->hints,
                &solver->rig);
    int code = solve_frame(&solved->solution, &stars, &solved->times, &solved->frame,
                           &solver->index.index, &solved->options, err);
    if (!code && solver->want_health) {
        code = judge_health(solved, &stars, solver, err);
    }
    star_list_free(&stars);
    return code;
}

int frame_solve(struct solved_frame *solved, const char *name, const struct solver *solver,
                struct error *err)
{
    const struct frame_options how = {.want_picture = solver->want_picture,
                                      .want_deep = solver->want_deep,
                                      .max_plane_pixels = most_plane_pixels};
    double start = now_ms();
    memset(solved, 0, sizeof *solved);
    solved->name = name;
    int code = frame_read(&solved->frame, name, &how, err);
    solved->read_ms = now_ms() - start;
    if (!code) {
        code = solve_read_frame(solved, solver, err);
    }
    free(solved->frame.luminance.value);
    solved->frame.luminance = (struct plane){0};
    solved->total_ms = now_ms() - start;
    return code;
}

void solved_frame_free(struct solved_frame *solved)
{
    frame_free(&solved->frame);
    solution_free(&solved->solution);
    memset(solved, 0, sizeof *solved);
}
