/* jobs/frame_drawing.h: a solved frame, drawn on and written. */
#ifndef ALIDADE_JOBS_FRAME_DRAWING_H
#define ALIDADE_JOBS_FRAME_DRAWING_H

#include "base/error.h"
#include "draw/drawing.h"
#include "draw/overlay.h"
#include "jobs/drawing_wish.h"
#include "jobs/frame_solver.h"
#include "jobs/occasion.h"

/* What to write where. */
struct frame_drawing {
    const struct drawing_wish *wish;
    const char *output;
    enum drawing_format format;
    bool alone;      /* without the picture */
    double focal_mm; /* of the frame, as the user says; 0: as the file says */
    const struct occasion *occasion;
};

/* ERROR_USAGE, ERROR_INPUT, ERROR_OUTPUT, ERROR_MEMORY. */
int frame_draw(struct overlay_report *report, const struct frame_drawing *drawing,
               const struct solved_frame *solved, const struct index *index,
               const struct atlas *atlas, struct error *err);

#endif
