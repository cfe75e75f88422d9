#define _XOPEN_SOURCE 700 /* strcasecmp, stat */

#include "cli/cli_commands.h"
#include "cli/index_place.h"
#include "cli/solve_report.h"
#include "draw/overlay.h"

#include "base/file.h"

#include <string.h>
#include <strings.h>
#include <sys/stat.h>

struct annotate_settings {
    struct hint_settings hints;
    const char *index, *catalogs, *output;
};

static const struct option_row options[] = {
    {.name = "output",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the picture here, a name that ends in .png",
     .required = true,
     .store = offsetof(struct annotate_settings, output)},
    HINT_OPTIONS(annotate_settings),
    PLACE_OPTIONS(annotate_settings),
    {0},
};

static bool is_same_file(const char *a, const char *b)
{
    struct stat first, second;
    return stat(a, &first) == 0 && stat(b, &second) == 0 && first.st_dev == second.st_dev &&
           first.st_ino == second.st_ino;
}

/* What would make the work vain is found before it. */
static int check_output(const char *output, const char *frame, struct error *err)
{
    size_t length = strlen(output);
    if (length < 5 || strcasecmp(output + length - 4, ".png") != 0) {
        return error_set(err, ERROR_USAGE,
                         "%s: this version writes PNG, expected a name that ends in .png", output);
    }
    if (is_same_file(output, frame)) {
        return error_set(err, ERROR_USAGE, "%s: would overwrite the frame itself", output);
    }
    struct file_out trial = {0};
    int code = file_out_open(&trial, output, err);
    if (!code) {
        file_out_abandon(&trial);
    }
    return code;
}

static int draw(struct overlay_report *report, const struct solved_frame *solved,
                const struct atlas *atlas, const char *output, struct error *err)
{
    const struct wcs *wcs = &solved->solution.wcs;
    struct canvas canvas = {0};
    struct field field = {0};
    char title[200];
    field_write_place(title, sizeof title, wcs, atlas);
    if (title[0] == 'i') {
        title[0] = 'I'; /* "In Cygnus" begins a line here */
    }
    int code = field_find(&field, wcs, &atlas->objects, err);
    if (!code) {
        code = canvas_open(&canvas, &solved->frame.picture, err);
    }
    if (!code) {
        code = overlay_draw(report, &canvas, wcs, &field, title, err);
    }
    if (!code) {
        code = canvas_save_png(&canvas, output, err);
    }
    canvas_free(&canvas);
    field_free(&field);
    return code;
}

static int annotate(const struct solver *solver, const struct atlas *atlas, const char *name,
                    const char *output, FILE *out, struct error *err)
{
    struct solved_frame solved = {0};
    struct overlay_report report = {0};
    int code = frame_solve(&solved, name, solver, err);
    if (!code && !solved.solution.solved) {
        solve_report_failure(out, &solved);
        code = ERROR_NO;
    } else if (!code) {
        code = draw(&report, &solved, atlas, output, err);
    }
    if (!code) {
        fprintf(out, "%s: %d object%s and %d star%s named\n", output, report.objects,
                report.objects == 1 ? "" : "s", report.stars, report.stars == 1 ? "" : "s");
    }
    solved_frame_free(&solved);
    return code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    (void)operands;
    const struct annotate_settings *settings = given;
    struct solver solver = {0};
    struct atlas atlas = {0};
    char place[4096];
    int code = check_output(settings->output, operand[0], err);
    if (!code) {
        code = solver_open(&solver, settings->index, &settings->hints, err);
    }
    if (!code) {
        code = catalogs_place(place, sizeof place, settings->catalogs, err);
    }
    if (!code) {
        code = atlas_load(&atlas, place, err);
    }
    if (!code) {
        solver.want_picture = true;
        code = annotate(&solver, &atlas, operand[0], settings->output, out, err);
    }
    atlas_free(&atlas);
    solver_close(&solver);
    return code;
}

const struct command command_annotate = {
    .name = "annotate",
    .summary = "Write a picture with its objects and stars marked and named.",
    .operands = "FRAME",
    .least = 1,
    .most = 1,
    .about =
        "Objects are outlined at their true place and size; what is smaller than a mark gets a "
        "lozenge. A ring that is open in four places covers as much sky as the object does, "
        "because the tables do not tell how it lies. Dark nebulae have dotted outlines, "
        "named stars stand between two strokes.",
    .options = options,
    .settings_size = sizeof(struct annotate_settings),
    .run = run,
};
