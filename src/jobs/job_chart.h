/* jobs/job_chart.h: a chart around an object, which needs no picture. */
#ifndef ALIDADE_JOBS_JOB_CHART_H
#define ALIDADE_JOBS_JOB_CHART_H

#include "draw/drawing.h"
#include "draw/overlay.h"
#include "jobs/drawing_wish.h"
#include "jobs/job_control.h"
#include "jobs/job_engine.h"
#include "jobs/occasion.h"

struct job_chart_wish {
    struct drawing_wish drawing;
    struct occasion_settings occasion; /* for Sun, Moon and planets */
    double focal_mm;                   /* of the lens; 0: the settings file's at its longest */
    double field_deg;                  /* width of the chart; 0: as the frame or the object wants */
    struct file_target output;
    enum drawing_format format;
};

/* The frame that the object is held against: the one asked for, else that of the settings file's
 * body and lens. All zeros if neither is known. */
void job_chart_frame(struct other_frame *frame, const struct job_engine *engine,
                     const struct job_chart_wish *wish);

/* How wide the chart is: as was asked for, else twice the frame, else six times the object, within
 * what a chart is good for. frame: all zeros if none is known. */
double job_chart_width_deg(const struct job_chart_wish *wish, const struct object *object,
                           const struct other_frame *frame);

/* Writes the chart, north up, to a file or to memory. The engine needs its index and its atlas;
 * object is one of the atlas. ERROR_USAGE for a time of an unknown zone; ERROR_CANCELLED before
 * anything is drawn; ERROR_OUTPUT, ERROR_MEMORY. */
int job_chart(struct overlay_report *report, const struct job_engine *engine,
              const struct object *object, const struct job_chart_wish *wish,
              const struct job_control *control, struct error *err);

#endif
