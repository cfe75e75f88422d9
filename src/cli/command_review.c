#include "base/stopwatch.h"
#include "base/text.h"
#include "base/utf8.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/find_target.h"
#include "cli/index_place.h"
#include "cli/open_solver.h"
#include "cli/review_json.h"
#include "cli/review_report.h"
#include "draw/night_page.h"
#include "jobs/review_measure.h"
#include "night/night_log.h"
#include "night/night_unite.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct review_settings {
    struct solver_settings solver;
    struct judge_rules rules;
    const char *target, *log, *csv, *list, *html;
    int threads;
    bool from, with_doubtful, replace, json;
};

/* "70,40": from which share on, in percent, a frame is doubtful, and dropped. */
static bool read_limit(void *member, const char *text)
{
    struct judge_limit *limit = member;
    char piece[64];
    const char *comma = strchr(text, ',');
    double doubtful, drop;
    if (!comma || (size_t)(comma - text) >= sizeof piece) {
        return false;
    }
    memcpy(piece, text, (size_t)(comma - text));
    piece[comma - text] = '\0';
    if (!text_read_double(&doubtful, piece) || !text_read_double(&drop, comma + 1) ||
        doubtful < 0 || drop < 0) {
        return false;
    }
    *limit = (struct judge_limit){doubtful / 100, drop / 100};
    return true;
}

#define LIMIT_OPTION(option, member, words)                                                        \
    {                                                                                              \
        .name = option, .kind = OPTION_READ, .argument = "A,B", .help = words,                     \
        .store = offsetof(struct review_settings, rules.member), .read = read_limit,               \
        .expected = "two percentages like 70,40"                                                   \
    }

static const struct option_row options[] = {
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help = "what the night was for: frames without it are dropped, and time is counted by where "
             "it stood",
     .store = offsetof(struct review_settings, target)},
    {.name = "html",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the report as one page that needs nothing else",
     .store = offsetof(struct review_settings, html)},
    {.name = "list",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the names of the kept frames, one a line, for a stacker",
     .store = offsetof(struct review_settings, list)},
    {.name = "with-doubtful",
     .help = "put doubtful frames into the list too",
     .store = offsetof(struct review_settings, with_doubtful)},
    {.name = "csv",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write a table of all frames with verdicts, reasons and figures",
     .store = offsetof(struct review_settings, csv)},
    {.name = "json",
     .help = "print one JSON object: every frame's verdict, what happened, what to do better",
     .store = offsetof(struct review_settings, json)},
    OUTPUTS_REPLACE_OPTION(review_settings, replace),
    {.name = "from",
     .help =
         "read no frames: what is named are files of lines that `solve --json`, watch or review "
         "wrote; the last line of a frame counts",
     .store = offsetof(struct review_settings, from)},
    {.name = "log",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "where lines of measured frames are kept (alidade-night.jsonl in the first folder, "
             "which watch keeps too); what it holds is not measured again",
     .store = offsetof(struct review_settings, log)},
    {.name = "threads",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "work on N frames at a time (one a processor)",
     .store = offsetof(struct review_settings, threads),
     .low = 1,
     .high = 256},
    {.kind = OPTION_HEADING,
     .help = "When a frame is doubtful (A) and when it is dropped (B), in percent of the night's "
             "median"},
    LIMIT_OPTION("stars", stars, "fewer stars (70,40)"),
    LIMIT_OPTION("width", width, "wider stars (125,160)"),
    LIMIT_OPTION("length", length, "longer stars, trail and all (140,200)"),
    LIMIT_OPTION("sky", sky, "a brighter sky (150,250)"),
    LIMIT_OPTION("in-frame", target, "less of the target in the frame, of its area (99.5,50)"),
    HINT_OPTIONS(review_settings),
    PLACE_OPTIONS(review_settings),
    {0},
};

/* Everything of a run. */
struct reviewing {
    const struct review_settings *settings;
    struct aim_context context;
    struct review_files files;
    struct night_list list;
    struct review review;
    int measured;
};

static int find_files(struct reviewing *r, int operands, char **operand, struct error *err)
{
    int code = 0;
    for (int i = 0; !code && i < operands; i++) {
        code = review_files_add(&r->files, operand[i], err);
    }
    review_files_settle(&r->files);
    if (!code && r->files.skipped) {
        fprintf(stderr, "alidade review: %d folder%s left out: %s%s\n", r->files.skipped,
                r->files.skipped == 1 ? "" : "s", r->files.first_skipped.text,
                r->files.skipped == 1 ? "" : " (the first)");
    }
    if (!code && r->files.count == 0) {
        return error_set(err, ERROR_INPUT, "%s: holds no frame", operand[0]);
    }
    return code;
}

/* log: NULL with --from. The inputs of that one are operands. */
static int check_outputs(const struct reviewing *r, int operands, char **operand, const char *log,
                         struct error *err)
{
    const struct review_settings *settings = r->settings;
    const struct output output[] = {
        {log, settings->log ? "--log" : "the night's log", .is_added_to = true},
        {settings->csv, .option = "--csv"},
        {settings->list, .option = "--list"},
        {settings->html, .option = "--html"},
    };
    struct outputs outputs = {.replace = settings->replace};
    int code = claims_add_usual(&outputs, settings->solver.index, settings->solver.catalogs,
                                &settings->solver.rig, err);
    for (int i = 0; !code && i < r->files.count; i++) {
        code = outputs_add_input(&outputs, r->files.name[i], "a frame", err);
    }
    for (int i = 0; !code && settings->from && i < operands; i++) {
        code = outputs_add_input(&outputs, operand[i], "the log that is read", err);
    }
    for (size_t i = 0; !code && i < sizeof output / sizeof *output; i++) {
        code = outputs_add(&outputs, &output[i], err);
    }
    return claims_settle(&outputs, code, err);
}

/* A line on the terminal that is written over and over. */
struct progress {
    double start_s, shown_s;
};

static void show_progress(void *context, int done, int all)
{
    struct progress *progress = context;
    double now = stopwatch_s(), spent = now - progress->start_s;
    char left[40];
    if (done == all) {
        fprintf(stderr, "\r\033[K");
    } else if (now - progress->shown_s >= 0.5) {
        progress->shown_s = now;
        review_write_duration(left, sizeof left, spent / done * (all - done));
        fprintf(stderr, "\r\033[K  %d of %d frames, %.3g a second, %s left", done, all,
                done / spent, left);
    }
    fflush(stderr);
}

static void complain(void *context, const struct error *err)
{
    (void)context;
    fputs("alidade review: ", stderr);
    utf8_write_shown(stderr, err->text);
    fputc('\n', stderr);
}

static int measure(struct reviewing *r, int operands, char **operand, struct error *err)
{
    char log[4096];
    const char *first = operand[0], *slash = strrchr(first, '/');
    int code = find_files(r, operands, operand, err);
    bool single = !code && r->files.count > 0 && strcmp(r->files.name[0], first) == 0;
    if (single) {
        snprintf(log, sizeof log, "%.*s" NIGHT_LOG_NAME, slash ? (int)(slash - first) + 1 : 0,
                 first);
    } else {
        snprintf(log, sizeof log, "%s/" NIGHT_LOG_NAME, first);
    }
    struct progress progress = {.start_s = stopwatch_s()};
    const struct job_control control = {.progress = show_progress, .context = &progress};
    struct review_work work = {.solver = &r->context.solver,
                               .files = &r->files,
                               .log = r->settings->log ? r->settings->log : log,
                               .log_wanted = r->settings->log != NULL,
                               .threads = r->settings->threads,
                               .control = isatty(STDERR_FILENO) ? &control : NULL,
                               .trouble = complain};
    code = code ? code : check_outputs(r, operands, operand, work.log, err);
    if (!code) {
        code = open_solver(&r->context.solver, &r->settings->solver, err);
        r->context.solver.want_health = true;
    }
    return code ? code : review_measure(&r->list, &r->measured, &work, err);
}

static int collect(struct reviewing *r, int operands, char **operand, struct error *err)
{
    int code = check_outputs(r, operands, operand, NULL, err);
    for (int i = 0; !code && i < operands; i++) {
        struct night_lines lines;
        int first = r->list.count;
        code = night_list_read(&r->list, &lines, operand[i], err);
        code = code ? code : night_unite_names(&r->list, first, err);
        if (!code && lines.broken) {
            fprintf(stderr,
                    "alidade review: %s: %ld line%s could not be read, the first is line "
                    "%ld\n",
                    operand[i], lines.broken, lines.broken == 1 ? "" : "s", lines.first_broken);
        }
    }
    code = code ? code : night_unite_frames(&r->list, err);
    if (!code && r->list.count == 0) {
        return error_set(err, ERROR_INPUT, "%s: holds no line of a frame", operand[0]);
    }
    return code;
}

static int write_files(const struct reviewing *r, struct error *err)
{
    const struct review_settings *settings = r->settings;
    int code = settings->csv ? review_report_csv(settings->csv, &r->review, err) : 0, left_out = 0;
    if (!code && settings->list) {
        code =
            review_report_list(settings->list, &left_out, &r->review, settings->with_doubtful, err);
    }
    if (left_out) {
        fprintf(stderr, "alidade review: %d name%s with a line break left out of %s\n", left_out,
                left_out == 1 ? "" : "s", settings->list);
    }
    return !code && settings->html
               ? night_page_write(&(struct file_target){.name = settings->html}, &r->review, err)
               : code;
}

static int answer(struct reviewing *r, int operands, char **operand, FILE *out, struct error *err)
{
    const struct review_settings *settings = r->settings;
    int code = settings->target
                   ? find_target(&r->context, settings->target, settings->solver.catalogs, err)
                   : 0;
    if (!code) {
        code = settings->from ? collect(r, operands, operand, err)
                              : measure(r, operands, operand, err);
    }
    if (!code) {
        code = review_make(&r->review, &r->list, settings->target ? &r->context.target : NULL,
                           &settings->rules, err);
    }
    if (!code && settings->json) {
        code = review_json_write(out, &r->review, err);
    } else if (!code) {
        review_report_text(out, &r->review);
    }
    code = code ? code : write_files(r, err);
    return !code && r->review.usual.frames == 0 ? ERROR_NO : code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct reviewing *r = calloc(1, sizeof *r);
    if (!r) {
        return error_memory(err);
    }
    r->settings = given;
    int code = answer(r, operands, operand, out, err);
    review_free(&r->review);
    night_list_free(&r->list);
    review_files_free(&r->files);
    solver_close(&r->context.solver);
    objects_free(&r->context.objects);
    free(r);
    return code;
}

const struct command command_review = {
    .name = "review",
    .summary = "Say what a night's frames are worth: which to keep, and what to do better.",
    .operands = "DIR...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about =
        "All frames in the folders and those in them are measured, on all processors; lights are "
        "held against the night's own median, dark, bias and flat frames are counted apart. What "
        "was measured is kept in a log: a review that was broken off, or is asked again, takes up "
        "where it was.\n\nMany machines: let each run `alidade solve --json` on its share of the "
        "frames, and review the lines with --from.",
    .options = options,
    .settings_size = sizeof(struct review_settings),
    .run = run,
};
