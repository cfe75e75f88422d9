/* cli/watch_report.h: what a watcher says: a line a frame, and large words when something must be
 * done. */
#ifndef ALIDADE_CLI_WATCH_REPORT_H
#define ALIDADE_CLI_WATCH_REPORT_H

#include "jobs/watch_session.h"
#include <stdbool.h>
#include <stdio.h>

struct watch_style {
    bool json;
    bool terminal; /* bell and bold letters */
    bool red;      /* letters in red, for dark-adapted eyes */
    int columns;   /* that lines may have */
};

/* One line of at most 80 columns, or as many as the terminal has: when, how good, where the target
 * is, how sharp, which file. lasting: what is wrong with the frames for now, as alerts_lasting;
 * NULL for nothing. */
void watch_report_frame(FILE *out, const struct watch_style *style, const struct night_frame *frame,
                        const struct night_step *step, const char *lasting);

/* frame and answer may be NULL: it is about no frame; no move belongs to it. */
void watch_report_alert(FILE *out, const struct watch_style *style, const struct alert *alert,
                        const struct night_frame *frame, const struct aim_answer *answer);

/* How the target stands in the stack: a line or two of text where there are enough more frames than
 * when it was last told (*told of them), or as soon as it is visible; as JSON, each time. */
struct watch_told_stack {
    int frames;
    bool visible;
};
void watch_report_stack(FILE *out, const struct watch_style *style,
                        const struct emergence *emergence, struct watch_told_stack *told);

/* What a message of an alert says in a line: what there is, and pan, tilt and the star to move
 * where a move belongs to it. UTF-8, cut to size. answer may be NULL. */
void watch_write_message(char *out, size_t size, const struct alert *alert,
                         const struct aim_answer *answer);

/* The next act, in how many frames, the move, and what the last frame was like, in so many columns:
 * "re-centre in 88: pan 2.4° left, tilt 0.9° up | good". */
void watch_write_standing(char *out, size_t size, const struct watch_standing *standing,
                          int columns);

/* The standing line at the bottom of a terminal: written without an end, so that it can be taken
 * away before anything else is. Does nothing elsewhere. */
void watch_report_standing(FILE *out, const struct watch_style *style,
                           const struct watch_standing *standing);
void watch_report_clear(FILE *out, const struct watch_style *style);

/* "20:31:24" as the camera's clock shows, "" if it is not known. */
void watch_write_clock(char *out, size_t size, const struct night_frame *frame);

/* A name for a line of text: control characters and bytes that are no UTF-8 become '?', and one
 * that is wider than columns loses its beginning. */
void watch_write_name(char *out, size_t size, const char *name, int columns);

#endif
