/* draw/night_page.h: a reviewed night as one page that needs nothing else: no network, and no
 * script but for one that is wished. */
#ifndef ALIDADE_DRAW_NIGHT_PAGE_H
#define ALIDADE_DRAW_NIGHT_PAGE_H

#include "base/file.h"
#include "night/emergence.h"
#include "night/review.h"

#include <stdbool.h>
#include <stdio.h>

enum { NIGHT_PAGE_SHOTS = 8 };

/* The stack as it came about. */
struct night_page_stack {
    const struct emergence *emergence; /* borrowed */
    struct night_page_shot {
        int frames;             /* that are in it */
        struct file_bytes jpeg; /* its picture; the caller's */
    } shot[NIGHT_PAGE_SHOTS];
    int shots;
};

/* What judges the night anew within its page; borrowed. */
struct night_page_engine {
    const char *parts; /* elements of the page that `make web` builds */
    size_t size;
};

/* Finds them in that page's bytes; false if this is no such page, or an older one. */
bool night_page_engine_find(struct night_page_engine *engine, const char *page, size_t size);

/* Writes the page, a file by way of a temporary one that is renamed in the end. Frames whose
 * thumbnails are wanted and cannot be read go without. stack may be NULL, and so may the reader of
 * the frames and the engine. ERROR_OUTPUT, ERROR_MEMORY. */
int night_page_write(const struct file_target *target, const struct review *review,
                     const struct night_page_stack *stack, const struct frame_reader *reader,
                     const struct night_page_engine *engine, struct error *err);

/* The parts of it that are drawn, as inline SVG. */

/* Each frame a bar in the order of time, by verdict. */
void night_plot_ribbon(FILE *out, const struct review *review);

/* One figure over the night. */
struct night_plot {
    const char *title, *unit;
    double (*number)(const struct review_frame *frame); /* NaN: none */
    int decimals;
};
void night_plot_draw(FILE *out, const struct review *review, const struct night_plot *plot);

/* Where the target was in the frame, batch by batch. */
void night_plot_path(FILE *out, const struct review *review);

/* What the kept frames cover, with the crop. */
void night_plot_cover(FILE *out, const struct review *review);

/* What emerged, with a slider over the frames, beside what was promised; nothing for NULL. */
void night_page_write_stack(FILE *out, const struct night_page_stack *stack);

/* The engine with the lines of all frames; nothing for NULL. ERROR_MEMORY only. */
int night_page_write_engine(FILE *out, const struct review *review,
                            const struct night_page_engine *engine, struct error *err);

/* A small picture of the frame as an <img>; nothing if it cannot be read. ERROR_MEMORY only. */
int night_thumbnail(FILE *out, const char *name, const struct frame_reader *reader,
                    struct error *err);

#endif
