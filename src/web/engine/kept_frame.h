/* web/engine/kept_frame.h: the page asks twice about each frame: what it shows, at once, and then
 * for a drawing of it. So the last frame that was solved is kept, with its picture, and the drawing
 * is made from that. The linker (src/web/web.mk) puts these two in place of the library's. */
#ifndef ALIDADE_WEB_ENGINE_KEPT_FRAME_H
#define ALIDADE_WEB_ENGINE_KEPT_FRAME_H

#include "jobs/job_solve.h"

/* As job_solve and solved_frame_free; a frame of the same bytes is not solved again where nothing
 * but its picture is wished.
 */
int __wrap_job_solve(struct solved_frame *solved, const struct job_engine *engine,
                     const struct picture_source *picture, const struct solve_wish *wish,
                     const struct job_control *control, struct error *err);
void __wrap_solved_frame_free(struct solved_frame *solved);

#endif
