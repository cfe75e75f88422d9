#define _XOPEN_SOURCE 700 /* strcasecmp */

#include "draw/drawing.h"

#include "base/file.h"
#include "draw/blend.h"
#include "draw/write_jpeg.h"
#include "draw/write_png.h"
#include "draw/write_vector.h"

#include <string.h>
#include <strings.h>

static const struct {
    const char *ending;
    enum drawing_format format;
} endings[] = {
    {".png", DRAWING_PNG}, {".jpg", DRAWING_JPEG}, {".jpeg", DRAWING_JPEG},
    {".svg", DRAWING_SVG}, {".pdf", DRAWING_PDF},
};

int drawing_format_of(enum drawing_format *format, const char *name, struct error *err)
{
    size_t length = strlen(name);
    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++) {
        size_t end = strlen(endings[i].ending);
        if (length > end && strcasecmp(name + length - end, endings[i].ending) == 0) {
            *format = endings[i].format;
            return 0;
        }
    }
    return error_set(err, ERROR_USAGE,
                     "%s: expected a name that ends in .png, .jpg, .svg or .pdf, which says what "
                     "to write",
                     name);
}

static int write_pixels(FILE *stream, const struct drawing *drawing, struct canvas *canvas,
                        struct error *err)
{
    const struct blend blend = {drawing->width,   drawing->height,     canvas,
                                drawing->picture, drawing->theme->red, NULL};
    return drawing->format == DRAWING_PNG
               ? write_png(stream, drawing->name, &blend, drawing->opaque, err)
               : write_jpeg(stream, drawing->name, &blend, err);
}

static int draw_pixels(FILE *stream, const struct drawing *drawing, drawing_content *content,
                       void *context, struct error *err)
{
    struct canvas canvas = {0};
    int code = canvas_open(&canvas, drawing->width, drawing->height, drawing->theme, err);
    code = code ? code : content(&canvas, context, err);
    code = code ? code : canvas_check(&canvas, drawing->name, err);
    code = code ? code : write_pixels(stream, drawing, &canvas, err);
    canvas_free(&canvas);
    return code;
}

int drawing_write(const struct drawing *drawing, drawing_content *content, void *context,
                  struct error *err)
{
    const struct file_target target = {drawing->name, drawing->memory};
    struct file_out out = {0};
    int code = file_out_open_to(&out, &target, err);
    if (code) {
        return code;
    }
    bool pixels = drawing->format == DRAWING_PNG || drawing->format == DRAWING_JPEG;
    code = pixels ? draw_pixels(out.stream, drawing, content, context, err)
                  : write_vector(out.stream, drawing, content, context, err);
    if (code) {
        file_out_abandon(&out);
        return code;
    }
    return file_out_commit(&out, err);
}
