#include "base/large.h"
#include "base/parallel.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/frame_answers.h"
#include "cli/index_place.h"
#include "cli/learn_lens_report.h"
#include "cli/occasion_options.h"
#include "cli/open_engine.h"
#include "cli/run_options.h"
#include "cli/solve_report.h"
#include "image/fits_copy.h"
#include "night/file_kind.h"
#include "sky/wcs_fits.h"

struct solve_settings {
    struct solver_settings solver;
    const char *header, *fits;
    struct occasion_settings occasion;
    int threads;
    bool json, verbose, update, replace, learn;
};

static const struct option_row options[] = {
    RUN_OPTIONS(solve_settings),
    {.name = "header",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the solution as a FITS header; for one frame",
     .store = offsetof(struct solve_settings, header)},
    {.name = "fits",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the frame as a FITS file with the solution in its header; for one frame",
     .store = offsetof(struct solve_settings, fits)},
    {.name = "update",
     .help = "write the solution into the header of each FITS frame itself; its pixels stay as "
             "they are, which is verified before the file is replaced",
     .store = offsetof(struct solve_settings, update)},
    OUTPUTS_REPLACE_OPTION(solve_settings, replace),
    {.kind = OPTION_HEADING, .help = "The lens"},
    {.name = "learn-lens",
     .help = "measure how the lens bends from all frames of its focal length, and store it in the "
             "settings file under --lens: solving and planning use it from then on",
     .store = offsetof(struct solve_settings, learn)},
    {.kind = OPTION_HEADING, .help = "Where and when, to keep refraction out of the lens"},
    RIG_PLACE_OPTION(solve_settings, solver.rig),
    OCCASION_OPTIONS(solve_settings, occasion),
    HINT_OPTIONS(solve_settings),
    PLACE_OPTIONS(solve_settings),
    {0},
};

static const struct solve_settings defaults = {.occasion = OCCASION_USUAL};

/* What the threads share. */
struct solve_run {
    const struct solve_settings *settings;
    struct lens_night *night;
    struct job_engine engine;
    struct solve_wish wish;
};

static int write_header(const struct solved_frame *solved, const char *name, struct error *err)
{
    const struct frame *frame = &solved->frame;
    bool top_down = frame->can.fits_header && frame->rows == ROWS_TOP_DOWN;
    return wcs_fits_write(&solved->solution.wcs, &(struct file_target){.name = name}, top_down,
                          err);
}

static int write_files(const struct solved_frame *solved, const struct solve_settings *settings,
                       struct error *err)
{
    const struct wcs *wcs = &solved->solution.wcs;
    int code = settings->header ? write_header(solved, settings->header, err) : 0;
    if (!code && settings->fits) {
        code = fits_copy_write(&(struct file_target){.name = settings->fits}, &solved->source,
                               &solved->frame, wcs, settings->replace, err);
    }
    if (!code && settings->update) {
        code = fits_copy_update(solved->name, &solved->frame, wcs, err);
    }
    return code;
}

static int report(FILE *out, const struct solved_frame *solved, const struct solve_run *run,
                  struct error *err)
{
    const struct solve_settings *settings = run->settings;
    int code = settings->json ? solve_report_json(out, solved, err)
                              : solve_report_text(out, solved,
                                                  run->engine.has_atlas ? &run->engine.atlas : NULL,
                                                  settings->verbose, err);
    if (!code && !solved->solution.solved) {
        return ERROR_NO;
    }
    return code ? code : write_files(solved, settings, err);
}

/* A frame that is only to be learned from. */
static int collect(FILE *out, struct solved_frame *solved, const struct solve_run *run,
                   struct error *err)
{
    if (solved->solution.solved) {
        lens_night_add(run->night, solved, &run->engine, &run->settings->occasion);
        return 0;
    }
    return solve_report_unsolved(out, solved, run->settings->json, err);
}

static int answer(FILE *out, const char *name, const void *context, struct error *err)
{
    const struct solve_run *run = context;
    struct solved_frame solved = {0};
    const struct picture_source picture = picture_source_file(name);
    int code = job_solve(&solved, &run->engine, &picture, &run->wish, NULL, err);
    if (code) {
        solve_report_unread(out, &solved, run->settings->json, err);
    } else {
        code =
            run->settings->learn ? collect(out, &solved, run, err) : report(out, &solved, run, err);
    }
    solved_frame_free(&solved);
    return code;
}

/* The tables only add words, so a solve goes on without them unless they were asked for. */
static int load_atlas(struct solve_run *run, struct error *err)
{
    char place[4096];
    struct error reason = {0};
    if (run->settings->json) {
        return 0;
    }
    int code = catalogs_place(place, sizeof place, run->settings->solver.catalogs, &reason);
    if (!code) {
        code = job_engine_add_atlas(&run->engine, place, &reason);
    }
    bool needed = run->settings->solver.catalogs || code == ERROR_MEMORY;
    return code && needed ? error_set(err, code, "%s", reason.text) : 0;
}

/* --fits may take the place of an earlier copy, which fits_copy_write tells by its pixels. */
static int check_outputs(const struct solve_settings *settings, int frames, char **frame,
                         struct error *err)
{
    struct outputs outputs = {.replace = settings->replace};
    const char *advice = file_kind_look(frame[0]) == FILE_FITS
                             ? "; expected another name, or --update, which writes the solution "
                               "into the frame's own header"
                             : NULL;
    char rig[4096] = "";
    int code = settings->learn ? rig_file_name(rig, sizeof rig, settings->solver.rig.file, err) : 0;
    code = code ? code : claims_add_frames(&outputs, frames, frame, err);
    code = code ? code
                : claims_add_usual(&outputs, &settings->solver.index, settings->solver.catalogs,
                                   settings->learn ? NULL : &settings->solver.rig, err);
    const struct output output[] = {
        {settings->header, "--header", .advice = advice},
        {settings->fits, "--fits", .advice = advice, .may_replace = FILE_KIND_BIT(FILE_FITS)},
        {rig[0] ? rig : NULL, "--learn-lens", .is_added_to = true},
    };
    for (size_t i = 0; !code && i < sizeof output / sizeof *output; i++) {
        code = outputs_add(&outputs, &output[i], err);
    }
    return claims_settle(&outputs, code, err);
}

static int check_settings(const struct solve_settings *settings, int operands, struct error *err)
{
    const char *single = settings->header ? "--header" : settings->fits ? "--fits" : NULL;
    if (single && operands > 1) {
        return error_set(err, ERROR_USAGE, "%s takes the solution of one frame, not of %d", single,
                         operands);
    }
    if (settings->learn && (single || settings->update)) {
        return error_set(err, ERROR_USAGE, "--learn-lens writes no solution: leave out %s",
                         single ? single : "--update");
    }
    return occasion_options_check(&settings->occasion, operands, err);
}

/* The lens may be a new one when it is to be learned, and so may the file. */
static int open_run(struct solve_run *run, int frames, struct error *err)
{
    const struct solve_settings *settings = run->settings;
    struct solver_settings given = settings->solver;
    if (settings->learn) {
        given.rig.lens = NULL;
        given.rig.may_be_new = true;
    }
    int code = open_engine(&run->engine, &run->wish, &given, err);
    if (!code && settings->learn && settings->solver.rig.lens) {
        rig_in_use_name_lens(&run->engine.rig, settings->solver.rig.lens);
    }
    run->wish.want_health = !settings->learn;
    run->wish.want_stars = settings->learn;
    run->wish.occasion = &settings->occasion;
    run->wish.want_picture = run->wish.want_deep = run->wish.keep_levels = settings->fits != NULL;
    code = code || settings->learn ? code : load_atlas(run, err);
    return code || !settings->learn ? code : lens_night_open(run->night, frames, err);
}

static int learn(FILE *out, struct solve_run *run, struct error *err)
{
    const struct rig_settings *rig = &run->settings->solver.rig;
    struct learned_lens learned;
    char file[4096];
    int code = rig_file_name(file, sizeof file, rig->file, err);
    code = code ? code : learn_lens(&learned, run->night, &run->engine, rig->lens, file, err);
    return code ? code : learn_lens_report(out, &learned, run->settings->json, err);
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct lens_night night = {0};
    struct solve_run run = {.settings = given, .night = &night};
    int code = check_settings(run.settings, operands, err);
    code = code ? code : check_outputs(run.settings, operands, operand, err);
    code = code ? code : open_run(&run, operands, err);
    if (!code) {
        large_keep(); /* stars are looked for in the memory that a reader leaves behind */
        run.wish.threads = parallel_share(run.settings->threads, operands);
        code = frames_answer(out, operands, operand, run.settings->threads, "alidade solve", answer,
                             &run, err);
        int learned = run.settings->learn && code < ERROR_USAGE ? learn(out, &run, err) : 0;
        code = learned ? learned : code;
    }
    lens_night_free(&night);
    job_engine_close(&run.engine);
    return code;
}

const struct command command_solve = {
    .name = "solve",
    .summary = "Find where frames point.",
    .operands = "FRAME...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about = "A frame is a camera raw, TIFF, PNG, JPEG or FITS file with stars in it. No other "
             "input is needed. What its EXIF or header says of the lens is used where present; "
             "command-line options override it. If nothing is found within these bounds, the "
             "search goes on without them unless --strict is given.\n\nPixels count to the right "
             "and down from the centre of the top left one, which is 0, 0; sky positions are ICRS.",
    .options = options,
    .settings_size = sizeof(struct solve_settings),
    .defaults = &defaults,
    .run = run,
};
