/* What drawing everything costs, beside reading a PNG file and writing it again.
 * Usage: bench_drawing FRAME.png CATALOGS FOLDER NUMBERS: adds drawing.ratio, drawing.read_write_s
 * and drawing.all_s, the best of three each, to the table NUMBERS. */
#include "base/file.h"
#include "base/stopwatch.h"
#include "draw/blend.h"
#include "draw/drawing.h"
#include "draw/overlay.h"
#include "draw/write_png.h"
#include "frames.h"

#include <stdio.h>
#include <string.h>

static int read_picture(struct frame *frame, const char *name, struct error *err)
{
    const struct frame_options how = {.want_picture = true, .max_plane_pixels = 8000000};
    return frame_read(frame, name, &how, err);
}

static int read_and_write(const char *name, const char *output, struct error *err)
{
    struct frame frame;
    struct file_out out = {0};
    int code = read_picture(&frame, name, err);
    code = code ? code : file_out_open(&out, output, err);
    if (!code) {
        const struct blend blend = {
            .width = frame.width, .height = frame.height, .picture = &frame.picture};
        code = write_png(out.stream, output, &blend, true, err);
        code = code ? code : file_out_commit(&out, err);
    }
    frame_free(&frame);
    return code;
}

struct content {
    struct overlay_request request;
    struct overlay_report report;
};

static int draw_content(struct canvas *canvas, void *context, struct error *err)
{
    struct content *content = context;
    return overlay_draw(&content->report, canvas, &content->request, err);
}

/* The summer Milky Way as a 50 mm lens sees it: much to draw. */
static int read_draw_write(const char *name, const char *output, const struct atlas *atlas,
                           struct error *err)
{
    struct frame frame;
    struct field field = {0};
    struct busy_map busy = {0};
    int code = read_picture(&frame, name, err);
    if (code) {
        return code;
    }
    struct wcs wcs = frame_at(275, -18, 20, false, frame.width, frame.height, 15.3);
    struct content content = {.request = {.wcs = &wcs,
                                          .atlas = atlas,
                                          .field = &field,
                                          .layers = (1U << LAYERS) - 1,
                                          .busy = &busy,
                                          .title = "In Sagittarius",
                                          .facts = "",
                                          .time_known = true,
                                          .time = {2461096, 0},
                                          .other = {8, 5, "150 mm"}}};
    const struct drawing drawing = {.name = output,
                                    .format = DRAWING_PNG,
                                    .theme = theme_of(THEME_NIGHT),
                                    .width = frame.width,
                                    .height = frame.height,
                                    .picture = &frame.picture};
    code = field_find(&field, &wcs, &atlas->objects, err);
    code = code ? code : busy_find(&busy, &frame.picture, err);
    code = code ? code : drawing_write(&drawing, draw_content, &content, err);
    busy_free(&busy);
    field_free(&field);
    frame_free(&frame);
    return code;
}

int main(int argc, char **argv)
{
    struct atlas atlas;
    struct error err = {0};
    char output[1000];
    double best[2] = {1e9, 1e9};
    if (argc != 5 || atlas_load(&atlas, argv[2], &err)) {
        fprintf(stderr, "usage: drawing FRAME.png CATALOGS FOLDER NUMBERS %s\n", err.text);
        return 2;
    }
    snprintf(output, sizeof output, "%s/drawn.png", argv[3]);
    int code = 0;
    for (int turn = 0; !code && turn < 6; turn++) {
        double start = stopwatch_s();
        code = turn % 2 ? read_draw_write(argv[1], output, &atlas, &err)
                        : read_and_write(argv[1], output, &err);
        double took = stopwatch_s() - start;
        best[turn % 2] = took < best[turn % 2] ? took : best[turn % 2];
    }
    FILE *numbers = code ? NULL : fopen(argv[4], "a");
    if (!numbers) {
        fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    fprintf(numbers, "drawing.read_write_s\t%.3f\ndrawing.all_s\t%.3f\ndrawing.ratio\t%.3f\n",
            best[0], best[1], best[1] / best[0]);
    printf("drawing every layer: %.2f s, of which reading and writing the PNG alone %.2f s\n",
           best[1], best[0]);
    atlas_free(&atlas);
    return fclose(numbers) != 0;
}
