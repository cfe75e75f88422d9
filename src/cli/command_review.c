#include "base/file.h"
#include "base/large.h"
#include "base/stopwatch.h"
#include "base/text.h"
#include "base/utf8.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/complaint.h"
#include "cli/index_place.h"
#include "cli/night_plan_options.h"
#include "cli/open_engine.h"
#include "cli/review_json.h"
#include "cli/review_report.h"
#include "cli/stack_options.h"
#include "cli/terminal.h"
#include "draw/night_page.h"
#include "jobs/job_review.h"
#include "jobs/review_stack.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct review_settings {
    struct solver_settings solver;
    struct judge_rules rules;
    struct stack_wish stack;
    const char *target, *plan, *log, *csv, *list, *html, *engine;
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
     .help = "the night's target: frames without it are dropped, and time is counted by where it "
             "was in the frame",
     .store = offsetof(struct review_settings, target)},
    NIGHT_PLAN_OPTION(review_settings, plan),
    {.name = "html",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the report as one self-contained page",
     .store = offsetof(struct review_settings, html)},
    {.name = "with-engine",
     .kind = OPTION_TEXT,
     .argument = "PAGE",
     .help =
         "put the engine of that page (alidade.html of `make web`) into the report, which then "
         "judges anew for another target or other limits, and one more frame that is dropped on "
         "it",
     .store = offsetof(struct review_settings, engine)},
    STACK_OPTION(
        review_settings, stack,
        "lay the kept and doubtful frames over each other and write a glimpse of it: .png, "
        "or .fits with numbers and WCS; may be given twice; the report then shows it too"),
    {.name = "list",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the names of the kept frames, one per line, for a stacking program",
     .store = offsetof(struct review_settings, list)},
    {.name = "with-doubtful",
     .help = "list doubtful frames too",
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
     .help = "read no frames, but files of lines that `solve --json`, watch or review wrote; the "
             "last line of a frame counts",
     .store = offsetof(struct review_settings, from)},
    {.name = "log",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "log with a line per frame (alidade-night.jsonl in the first folder, which watch "
             "keeps too); frames already in it are not measured again",
     .store = offsetof(struct review_settings, log)},
    {.name = "threads",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "work on N frames at a time (one per processor)",
     .store = offsetof(struct review_settings, threads),
     .low = 1,
     .high = 256},
    {.kind = OPTION_HEADING,
     .help = "When a frame is doubtful (A) and when it is dropped (B), in per cent of the night's "
             "median"},
    LIMIT_OPTION("stars", stars, "fewer stars (70,40)"),
    LIMIT_OPTION("width", width, "wider stars (125,160)"),
    LIMIT_OPTION("length", length, "longer stars, trail and all (140,200)"),
    LIMIT_OPTION("sky", sky, "a brighter sky (150,250)"),
    LIMIT_OPTION("in-frame", target, "less of the target's area in the frame (99.5,50)"),
    HINT_OPTIONS(review_settings),
    PLACE_OPTIONS(review_settings),
    {0},
};

/* Everything of a run. */
struct reviewing {
    const struct review_settings *settings;
    struct job_engine engine;
    struct aim_target target;
    struct night_plan plan;
    struct review_files files;
    struct job_review_wish wish;
    struct job_review_result result;
    struct review_stack stack;
    struct file_map engine_page;
    struct night_page_engine engine_parts; /* of that */
};

static int find_files(struct reviewing *r, char *log, size_t size, int operands, char **operand,
                      struct error *err)
{
    int code = job_review_find(&r->files, log, size, operand, operands, err);
    if (r->files.skipped) {
        fprintf(stderr, "alidade review: %d folder%s left out: %s%s\n", r->files.skipped,
                r->files.skipped == 1 ? "" : "s", r->files.first_skipped.text,
                r->files.skipped == 1 ? "" : " (the first)");
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
    int code = claims_add_usual(&outputs, &settings->solver.index, settings->solver.catalogs,
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
    if (!code && settings->engine) {
        code = outputs_add_input(&outputs, settings->engine, "the page with the engine", err);
    }
    code = code ? code : stack_option_claim(&outputs, &settings->stack, err);
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
    complaint_write(stderr, "alidade review", err);
}

static int measure(struct reviewing *r, int operands, char **operand, struct error *err)
{
    char log[4096];
    struct progress progress = {.start_s = stopwatch_s()};
    const struct job_control control = {.progress = show_progress, .context = &progress};
    int code = find_files(r, log, sizeof log, operands, operand, err);
    r->wish.log = r->settings->log ? r->settings->log : log;
    r->wish.log_wanted = r->settings->log != NULL;
    code = code ? code : check_outputs(r, operands, operand, r->wish.log, err);
    code = code ? code : open_engine(&r->engine, &r->wish.solve, &r->settings->solver, err);
    return code ? code
                : job_review(&r->result, &r->engine, &r->files, &r->wish,
                             isatty(STDERR_FILENO) ? &control : NULL, err);
}

static int stack(struct reviewing *r, struct error *err)
{
    struct progress progress = {.start_s = stopwatch_s()};
    const struct job_control control = {.progress = show_progress, .context = &progress};
    const struct review_stack_work work = {.engine = &r->engine,
                                           .solve = &r->wish.solve,
                                           .wish = &r->settings->stack,
                                           .control = isatty(STDERR_FILENO) ? &control : NULL,
                                           .threads = r->settings->threads};
    return stack_wish_given(work.wish) ? review_stack_make(&r->stack, &r->result.review, &work, err)
                                       : 0;
}

static int collect(struct reviewing *r, int operands, char **operand, struct error *err)
{
    int code = check_outputs(r, operands, operand, NULL, err);
    /* Lines may name any file, and the report shows some of them. */
    code = code || !r->settings->html
               ? code
               : reading_begin(&r->engine, &r->settings->solver.reading, err);
    return code ? code : job_review_lines(&r->result, operand, operands, &r->wish, err);
}

static int write_files(const struct reviewing *r, struct error *err)
{
    const struct review_settings *settings = r->settings;
    int code = settings->csv ? review_report_csv(settings->csv, &r->result.review, err) : 0,
        left_out = 0;
    if (!code && settings->list) {
        code = review_report_list(settings->list, &left_out, &r->result.review,
                                  settings->with_doubtful, err);
    }
    if (left_out) {
        fprintf(stderr, "alidade review: %d name%s with a line break left out of %s\n", left_out,
                left_out == 1 ? "" : "s", settings->list);
    }
    return !code && settings->html
               ? night_page_write(&(struct file_target){.name = settings->html}, &r->result.review,
                                  r->stack.frames ? &r->stack.page : NULL, r->engine.reader,
                                  settings->engine ? &r->engine_parts : NULL, err)
               : code;
}

/* Before any work, which would be vain without it. */
static int find_engine(struct reviewing *r, struct error *err)
{
    const struct review_settings *settings = r->settings;
    if (!settings->engine) {
        return 0;
    }
    if (!settings->html) {
        return error_set(err, ERROR_USAGE,
                         "--with-engine: needs --html, the report to put it into");
    }
    if (file_map_open(&r->engine_page, settings->engine, err)) {
        return ERROR_INPUT;
    }
    const char *bytes = (const char *)r->engine_page.bytes;
    return night_page_engine_find(&r->engine_parts, bytes, r->engine_page.size)
               ? 0
               : error_set(err, ERROR_INPUT,
                           "%s: has no engine; expected alidade.html as `make web` builds it",
                           settings->engine);
}

static int prepare(struct reviewing *r, const char *first, struct error *err)
{
    const struct review_settings *settings = r->settings;
    r->wish = (struct job_review_wish){
        .rules = settings->rules, .threads = settings->threads, .trouble = complain};
    const struct night_plan_wish planned = {.option = settings->plan,
                                            .beside = first,
                                            .target = settings->target,
                                            .catalogs = settings->solver.catalogs,
                                            .may_lack = true};
    int code = find_engine(r, err);
    code = code ? code
                : night_plan_use(&r->target, &r->wish.plan, &r->plan, &r->engine, &planned, err);
    r->wish.target = r->target.name[0] ? &r->target : NULL;
    return code;
}

static int answer(struct reviewing *r, int operands, char **operand, FILE *out, struct error *err)
{
    int code = prepare(r, operand[0], err);
    if (!code && r->settings->from && stack_wish_given(&r->settings->stack)) {
        code = error_set(err, ERROR_USAGE, "--stack: needs the frames, which --from does not read");
    }
    if (!code) {
        code = r->settings->from ? collect(r, operands, operand, err)
                                 : measure(r, operands, operand, err);
    }
    code = code ? code : stack(r, err);
    const struct emergence *emergence = r->stack.frames ? &r->stack.night.emergence : NULL;
    if (!code && r->settings->json) {
        code = review_json_write(out, &r->result.review, emergence, err);
    } else if (!code) {
        struct terminal_text text;
        review_report_text(terminal_begin(&text, out), &r->result.review, emergence);
        terminal_end(&text);
    }
    code = code ? code : write_files(r, err);
    return !code && r->result.review.usual.frames == 0 ? ERROR_NO : code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct reviewing *r = calloc(1, sizeof *r);
    if (!r) {
        return error_memory(err);
    }
    r->settings = given;
    if (!r->settings->from) {
        large_keep();
    }
    int code = answer(r, operands, operand, out, err);
    file_map_close(&r->engine_page);
    review_stack_free(&r->stack);
    job_review_free(&r->result);
    review_files_free(&r->files);
    job_engine_close(&r->engine);
    free(r);
    return code;
}

const struct command command_review = {
    .name = "review",
    .summary = "Rate a night's frames: which to keep, and what to improve.",
    .operands = "DIR...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about = "All frames in the folders and those in them are measured, on all processors; lights "
             "are compared with the night's own median, dark, bias and flat frames are counted "
             "apart. What was measured is kept in a log, from which an interrupted or repeated "
             "review resumes.\n\nMany machines: let each run `alidade solve --json` on its share "
             "of the frames, and review the lines with --from.",
    .options = options,
    .settings_size = sizeof(struct review_settings),
    .run = run,
};
