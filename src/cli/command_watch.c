#include "base/path.h"
#include "base/utf8.h"
#include "cli/alert_command.h"
#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/complaint.h"
#include "cli/index_place.h"
#include "cli/night_plan_options.h"
#include "cli/occasion_options.h"
#include "cli/open_engine.h"
#include "cli/run_options.h"
#include "cli/stack_options.h"
#include "cli/terminal.h"
#include "cli/watch_page.h"
#include "cli/watch_report.h"
#include "image/frame_name.h"
#include "jobs/job_watch.h"

#include <signal.h>
#include <stdlib.h>
#include <unistd.h>

struct watch_settings {
    struct solver_settings solver;
    struct watch_wish wish;
    struct aim_wish aim;
    const char *target, *on_alert, *plan, *page;
    bool once, poll, red, replace, json;
};

static const struct option_row options[] = {
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help = "what should stay in the frame: \"M 31\", \"Orion Nebula\", or a position like "
             "83.8,-5.4 or 5h35m,-5d24m",
     .store = offsetof(struct watch_settings, target)},
    NIGHT_PLAN_OPTION(watch_settings, plan),
    {.name = "margin",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "margin along each edge, a part of the shorter side, that the target should stay out "
             "of (5)",
     .low = 0,
     .high = 49,
     .store = offsetof(struct watch_settings, aim.margin_percent)},
    {.name = "warn",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "warn N frames before re-centring is due (12)",
     .low = 1,
     .high = 10000,
     .store = offsetof(struct watch_settings, wish.warn)},
    {.name = "batch",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "re-centre after N frames, aimed ahead so that they are centred on average (the "
             "plan's, else as many as stay sharp)",
     .low = 1,
     .high = 100000,
     .store = offsetof(struct watch_settings, aim.batch)},
    {.name = "centre",
     .help = "centre the target now instead, and re-centre when it reaches the edge",
     .store = offsetof(struct watch_settings, aim.centre)},
    {.name = "cadence",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds from one frame's start to the next (measured from the frames)",
     .low = 0.01,
     .high = 86400,
     .store = offsetof(struct watch_settings, aim.cadence_s)},
    {.name = "settle",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds that you take to re-centre (30)",
     .low = 0,
     .high = 86400,
     .store = offsetof(struct watch_settings, aim.settle_s)},
    {.kind = OPTION_HEADING, .help = "Following the folder"},
    {.name = "once",
     .help = "process the frames already there, in name order, numbers by value, and exit",
     .store = offsetof(struct watch_settings, once)},
    {.name = "log",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "log with a line per frame (alidade-night.jsonl in the folder); frames already in it "
             "are not solved again",
     .store = offsetof(struct watch_settings, wish.log)},
    {.name = "quiet",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "warn when no frame has arrived for S seconds (a minute, or five frames)",
     .low = 1,
     .high = 86400,
     .store = offsetof(struct watch_settings, wish.quiet_s)},
    {.name = "poll",
     .help = "look for new files instead of relying on the system to report them",
     .store = offsetof(struct watch_settings, poll)},
    STACK_OPTION(watch_settings, wish.stack,
                 "lay the frames over each other as they arrive and write a glimpse of it: .png, "
                 "or .fits with numbers and WCS; may be given twice"),
    OUTPUTS_REPLACE_OPTION(watch_settings, replace),
    {.kind = OPTION_HEADING, .help = "Alerts"},
    WATCH_PAGE_OPTION(watch_settings, page),
    {.name = "on-alert",
     .kind = OPTION_TEXT,
     .argument = "COMMAND",
     .help = "run this shell command for each alert, with ALIDADE_ALERT, ALIDADE_TITLE, "
             "ALIDADE_TEXT (what to do, with pan, tilt and the star to move) and ALIDADE_FRAME in "
             "its environment",
     .store = offsetof(struct watch_settings, on_alert)},
    {.name = "red",
     .help = "write in red, for dark-adapted eyes",
     .store = offsetof(struct watch_settings, red)},
    {.name = "json",
     .help = "print one JSON object per frame and per alert, one per line",
     .store = offsetof(struct watch_settings, json)},
    {.name = "threads",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "work on N frames at a time where several wait (one per processor)",
     .store = offsetof(struct watch_settings, wish.threads),
     .low = 1,
     .high = 256},
    {.kind = OPTION_HEADING, .help = "Where and when, for pan and tilt"},
    RIG_PLACE_OPTION(watch_settings, solver.rig),
    {.name = "head",
     .kind = OPTION_TEXT,
     .argument = "NAME",
     .help = "the tripod's head of that name in the settings file",
     .store = offsetof(struct watch_settings, solver.rig.head)},
    {.name = "clock-error",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds the camera's clock is fast; negative if slow",
     .store = offsetof(struct watch_settings, aim.occasion.clock_fast_s),
     .low = -86400,
     .high = 86400},
    HINT_OPTIONS(watch_settings),
    PLACE_OPTIONS(watch_settings),
    {0},
};

static const struct watch_settings defaults = {
    .aim = {.margin_percent = 5,
            .settle_s = 30,
            .accept.align = SMEAR_HOMOGRAPHY,
            .occasion.temperature_c = 10},
    .wish.warn = 12,
};

static atomic_bool stopped;

static void stop(int number)
{
    (void)number;
    atomic_store(&stopped, true);
}

static void catch_stops(void)
{
    struct sigaction action = {.sa_handler = stop};
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
}

/* What the listener needs of a run. */
struct watch {
    const struct watch_settings *settings;
    FILE *out;
    struct watch_style style;
    struct job_engine engine;
    struct job_watch_wish wish;
    struct night_plan plan;
    struct watch_page page;
    struct watch_told_stack told;
};

static void complain(void *context, const struct error *err)
{
    const struct watch *watch = context;
    if (watch->page.live) {
        live_trouble(watch->page.live, err);
    }
    watch_report_clear(watch->out, &watch->style);
    fflush(watch->out);
    complaint_write(stderr, "alidade watch", err);
}

/* Nobody reads on when what is written cannot get out. */
static void hand_out(const struct watch *watch)
{
    if (fflush(watch->out) != 0 || ferror(watch->out)) {
        atomic_store(&stopped, true);
    }
}

static void tell_frame(void *context, const struct night_frame *frame,
                       const struct night_step *step, const char *lasting)
{
    const struct watch *watch = context;
    watch_report_clear(watch->out, &watch->style);
    watch_report_frame(watch->out, &watch->style, frame, step, lasting);
    if (watch->page.live) {
        live_frame(watch->page.live, frame, step);
    }
    hand_out(watch);
}

static void tell_alert(void *context, const struct alert *alert, const struct night_frame *frame,
                       const struct aim_answer *answer)
{
    const struct watch *watch = context;
    struct error err = {0};
    char text[2 * ALERT_TEXT_SIZE];
    watch_write_message(text, sizeof text, alert, answer);
    const struct alert_message message = {alert_key(alert->kind), alert_title(alert->kind), text,
                                          frame ? frame->name : ""};
    watch_report_clear(watch->out, &watch->style);
    watch_report_alert(watch->out, &watch->style, alert, frame, answer);
    if (watch->page.live) {
        live_alert(watch->page.live, alert, frame);
    }
    hand_out(watch);
    if (watch->settings->on_alert && alert_is_loud(alert->kind) &&
        alert_command_start(watch->settings->on_alert, &message, &err)) {
        complain(context, &err);
    }
    alert_command_reap();
}

static void tell_standing(void *context, const struct watch_standing *standing)
{
    const struct watch *watch = context;
    watch_report_standing(watch->out, &watch->style, standing);
    if (watch->page.live) {
        live_standing(watch->page.live, standing);
    }
    hand_out(watch);
}

static bool take_change(void *context, struct watch_change *change)
{
    const struct watch *watch = context;
    return watch->page.live && live_change(watch->page.live, change);
}

static void tell_stack(void *context, const struct night_stack *stack)
{
    struct watch *watch = context;
    watch_report_clear(watch->out, &watch->style);
    watch_report_stack(watch->out, &watch->style, &stack->emergence, &watch->told);
    if (watch->page.live) {
        live_glimpse(watch->page.live, stack);
    }
    hand_out(watch);
}

static void say_hello(void *context, const struct watch_session *session)
{
    const struct watch *watch = context;
    int known = session->known.settled;
    catch_stops();
    if (watch->page.live) {
        live_began(watch->page.live, session);
        watch_page_show(watch->out, &watch->page, &watch->style);
    }
    if (watch->style.json) {
        return;
    }
    struct terminal_text text;
    FILE *hello = terminal_begin(&text, watch->out);
    fprintf(hello, "Following %s for %s; the log is %s.\n", session->path, watch->wish.target.name,
            session->log.name);
    if (watch->wish.plan && watch->wish.plan->hours[0]) {
        fprintf(hello, "Planned hours: %s.\n", watch->wish.plan->hours);
    }
    if (known) {
        fprintf(hello, "%d frame%s from the log %s not solved again.\n", known,
                known == 1 ? "" : "s", known == 1 ? "is" : "are");
    }
    if (known && stack_wish_given(&watch->settings->wish.stack)) {
        fputs("Frames of the log go into the stack first.\n", hello);
    }
    char zone[40];
    occasion_write_usual_zone(zone, sizeof zone, &watch->engine.rig.rig,
                              watch->wish.aim.occasion.today);
    if (zone[0]) {
        fprintf(hello, "Times are those of the camera's clock, %s.\n", zone);
    }
    terminal_end(&text);
    fflush(watch->out);
}

static void say_goodbye(void *context, const struct watch_session *session)
{
    const struct watch *watch = context;
    watch_report_clear(watch->out, &watch->style);
    if (!watch->style.json) {
        fprintf(watch->out, "%ld new frame%s, %ld solved, %ld alert%s.\n", session->frames,
                session->frames == 1 ? "" : "s", session->solved, session->told,
                session->told == 1 ? "" : "s");
    }
}

/* The log and the stack are all that is written. */
static int check_files(const struct watch_settings *settings, const char *folder, struct error *err)
{
    char *usual = path_join(folder, NIGHT_LOG_NAME);
    const struct output output = {settings->wish.log ? settings->wish.log : usual,
                                  settings->wish.log ? "--log" : "the log", .is_added_to = true};
    struct outputs outputs = {.replace = settings->replace};
    int code = usual ? 0 : error_memory(err);
    code = code ? code
                : claims_add_usual(&outputs, &settings->solver.index, settings->solver.catalogs,
                                   &settings->solver.rig, err);
    code = code ? code
                : outputs_add_folder(&outputs, folder, "a frame of the folder", frame_name_is_frame,
                                     err);
    code = code ? code : outputs_add(&outputs, &output, err);
    code = code ? code : stack_option_claim(&outputs, &settings->wish.stack, err);
    code = claims_settle(&outputs, code, err);
    free(usual);
    return code;
}

static int prepare(struct watch *watch, const char *folder, struct error *err)
{
    const struct watch_settings *settings = watch->settings;
    watch->style = (struct watch_style){.json = settings->json,
                                        .terminal = isatty(fileno(watch->out)) != 0,
                                        .red = settings->red,
                                        .columns = terminal_columns(watch->out)};
    watch->wish = (struct job_watch_wish){.aim = settings->aim,
                                          .watch = settings->wish,
                                          .once = settings->once,
                                          .poll = settings->poll};
    watch->wish.watch.stack.red = settings->red;
    watch->wish.aim.occasion.today = occasion_options_today();
    int code = check_files(settings, folder, err);
    if (!code) {
        const struct night_plan_wish planned = {.option = settings->plan,
                                                .beside = folder,
                                                .target = settings->target,
                                                .catalogs = settings->solver.catalogs};
        code = night_plan_use(&watch->wish.target, &watch->wish.plan, &watch->plan, &watch->engine,
                              &planned, err);
    }
    code = code ? code : open_engine(&watch->engine, &watch->wish.solve, &settings->solver, err);
    if (!code && settings->page) {
        code = watch_page_open(&watch->page, settings->page, &settings->solver,
                               watch->engine.reader, &watch->wish, err);
    }
    return code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct watch *watch = calloc(1, sizeof *watch);
    (void)operands;
    if (!watch) {
        return error_memory(err);
    }
    watch->settings = given;
    watch->out = out;
    const struct watch_listener listener = {
        .context = watch,
        .began = say_hello,
        .ended = say_goodbye,
        .frame = tell_frame,
        .alert = tell_alert,
        .standing = isatty(fileno(out)) || watch->settings->page ? tell_standing : NULL,
        .stack = tell_stack,
        .trouble = complain,
        .change = take_change,
    };
    const struct job_control control = {.cancelled = &stopped};
    struct job_watch_result result;
    int code = prepare(watch, operand[0], err);
    if (!code) {
        code =
            job_watch(&result, &watch->engine, operand[0], &watch->wish, &listener, &control, err);
    }
    watch_page_close(&watch->page);
    job_engine_close(&watch->engine);
    free(watch);
    return code;
}

const struct command command_watch = {
    .name = "watch",
    .summary =
        "Follow a folder where frames arrive, and raise an alert when something must be done.",
    .operands = "DIR",
    .least = 1,
    .most = 1,
    .about =
        "Every new frame gets a line: the camera's clock, how good it is, where the target is and "
        "for how many frames it stays in the safe area, how wide and how many its stars are. A "
        "large message with the bell appears when the camera must be re-centred (soon, now, and "
        "whether it went well), when stars trail or widen, for cloud, dew, a bright sky, a knock, "
        "changed settings, when no frame arrives, and when the disk fills up. A single bad frame "
        "raises no alert.\n\nFrames are read once they are complete; hidden files and names of "
        "unfinished copies are ignored, and so is a JPEG beside its raw file. Subfolders are not "
        "searched. Stop with Ctrl-C; the next start resumes from the log.",
    .options = options,
    .defaults = &defaults,
    .settings_size = sizeof(struct watch_settings),
    .run = run,
};
