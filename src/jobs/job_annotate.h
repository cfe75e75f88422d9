/* jobs/job_annotate.h: from a picture to a drawing of what is in it. */
#ifndef ALIDADE_JOBS_JOB_ANNOTATE_H
#define ALIDADE_JOBS_JOB_ANNOTATE_H

#include "draw/drawing.h"
#include "draw/overlay.h"
#include "jobs/drawing_wish.h"
#include "jobs/job_solve.h"
#include "jobs/occasion.h"
#include "plan/night_plan.h"
#include "tripod/aim.h"

struct job_annotate_wish {
    struct solve_wish solve; /* what the drawing needs of the picture is asked for besides */
    struct drawing_wish drawing;
    struct occasion_settings occasion; /* for Sun, Moon and planets */
    struct file_target output;
    enum drawing_format format;
    bool alone; /* without the picture; not for JPEG, which has no transparency */
    /* What the picture is to be of: named first, and marked; name "": nothing certain. */
    struct aim_target target;
    const struct night_plan *plan; /* whose frame is drawn; borrowed; NULL: there is none */
};

/* Starts as all zeros; free with job_annotate_free. */
struct job_annotate_result {
    struct solved_frame solved;
    struct overlay_report report; /* what was drawn, of a solved frame */
    bool has_target;              /* of the wish, and it is known where it stood: */
    struct aim_target target;
    struct aim aim; /* where that is in the picture */
};

/* Solves the picture and writes the drawing, to a file or to memory. Without a solution nothing is
 * written, which is a normal outcome: 0, with solved.solution.solved false. The engine needs its
 * index and its atlas. Steps and cancelling as job_solve; errors likewise, and ERROR_USAGE for a
 * time of an unknown zone, JPEG that should be transparent, or another frame of an unknown sensor;
 * ERROR_OUTPUT. */
int job_annotate(struct job_annotate_result *result, const struct job_engine *engine,
                 const struct picture_source *picture, const struct job_annotate_wish *wish,
                 const struct job_control *control, struct error *err);
/* Whether what is wanted goes together, before any work. ERROR_USAGE. */
int job_annotate_check(const struct job_annotate_wish *wish, struct error *err);
void job_annotate_free(struct job_annotate_result *result);

#endif
