#include "base/stopwatch.h"
#include "cli/cli_commands.h"
#include "cli/index_place.h"
#include "cli/run_options.h"
#include "cli/watch_block.h"
#include "cli/watch_folder.h"
#include "cli/watch_session.h"

#include <signal.h>
#include <stdlib.h>

static const double poll_s = 1, report_poll_s = 5, settling_poll_s = 0.25;

static const struct option_row options[] = {
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help = "what should stay in the frame: \"M 31\", \"Orion Nebula\", or a position like "
             "83.8,-5.4 or 5h35m,-5d24m",
     .required = true,
     .store = offsetof(struct watch_settings, aim.target)},
    {.name = "margin",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "the safe part of the frame is what is left without this part of its shorter side "
             "along each edge (5)",
     .low = 0,
     .high = 49,
     .store = offsetof(struct watch_settings, aim.margin_percent)},
    {.name = "warn",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "say N frames before it is due that the camera must be re-centred (12)",
     .low = 1,
     .high = 10000,
     .store = offsetof(struct watch_settings, warn)},
    {.name = "batch",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "re-centre so that N frames are centred on average (the target, now)",
     .low = 1,
     .high = 100000,
     .store = offsetof(struct watch_settings, aim.batch)},
    {.name = "cadence",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds from one frame's start to the next (as the frames show)",
     .low = 0.01,
     .high = 86400,
     .store = offsetof(struct watch_settings, aim.every_s)},
    {.name = "settle",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds that you take to re-centre (30)",
     .low = 0,
     .high = 86400,
     .store = offsetof(struct watch_settings, aim.settle_s)},
    {.kind = OPTION_HEADING, .help = "Following the folder"},
    {.name = "once",
     .help = "take the frames that are there in the order of their names, numbers by value, and "
             "stop",
     .store = offsetof(struct watch_settings, once)},
    {.name = "log",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "where to keep a line a frame (alidade-night.jsonl in the folder); what it holds is "
             "not solved again",
     .store = offsetof(struct watch_settings, log)},
    {.name = "quiet",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "say when no frame has come for so long (a minute, or five frames)",
     .low = 1,
     .high = 86400,
     .store = offsetof(struct watch_settings, quiet_s)},
    {.name = "poll",
     .help = "do not rely on the system to report new files",
     .store = offsetof(struct watch_settings, poll)},
    {.kind = OPTION_HEADING, .help = "Being told"},
    {.name = "on-alert",
     .kind = OPTION_TEXT,
     .argument = "COMMAND",
     .help = "run this by the shell for each alert, with ALIDADE_ALERT, ALIDADE_TITLE, "
             "ALIDADE_TEXT and ALIDADE_FRAME in its environment",
     .store = offsetof(struct watch_settings, on_alert)},
    {.name = "red",
     .help = "write in red, for eyes that are used to the dark",
     .store = offsetof(struct watch_settings, red)},
    {.name = "json",
     .help = "print one JSON object a frame and one an alert, each on a line",
     .store = offsetof(struct watch_settings, aim.json)},
    {.name = "threads",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "work on N frames at a time where several wait (one a processor)",
     .store = offsetof(struct watch_settings, aim.threads),
     .low = 1,
     .high = 256},
    {.kind = OPTION_HEADING, .help = "Where and when, for pan and tilt"},
    RIG_PLACE_OPTION(watch_settings, hints.rig),
    {.name = "head",
     .kind = OPTION_TEXT,
     .argument = "NAME",
     .help = "the tripod's head of that name in the settings file",
     .store = offsetof(struct watch_settings, hints.rig.head)},
    {.name = "zone",
     .kind = OPTION_READ,
     .argument = "+HH:MM",
     .help = "how far the camera's clock is ahead of UTC (what the file says, else the place's "
             "utc offset in the settings file)",
     .store = offsetof(struct watch_settings, aim.occasion.zone),
     .read = occasion_read_zone,
     .expected = "an offset from UTC like +01:00 or -05:30"},
    {.name = "clock-error",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "by how many seconds the camera's clock is fast; negative if it is slow",
     .store = offsetof(struct watch_settings, aim.occasion.clock_fast_s),
     .low = -86400,
     .high = 86400},
    HINT_OPTIONS(watch_settings),
    PLACE_OPTIONS(watch_settings),
    {0},
};

static const struct watch_settings defaults = {
    .aim = {.margin_percent = 5, .settle_s = 30, .smear_px = 1, .occasion.temperature_c = 10},
    .warn = 12,
};

static volatile sig_atomic_t stopped;

static void stop(int number)
{
    (void)number;
    stopped = 1;
}

static void catch_stops(void)
{
    struct sigaction action = {.sa_handler = stop};
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
}

/* Everything of a run. */
struct watch {
    struct watch_session session;
    struct watch_folder folder;
    bool folder_failing;
};

static bool is_over(const struct watch *watch)
{
    return stopped || ferror(watch->session.out);
}

/* A folder that cannot be read any more may come back: a card, a network drive. */
static int look(struct watch *watch, struct error *err)
{
    struct error why = {0};
    int code = folder_look(&watch->folder, stopwatch_s(), &why);
    if (code == ERROR_INPUT && !watch->session.settings->once) {
        if (!watch->folder_failing) {
            session_complain(&why);
        }
        watch->folder_failing = true;
        return 0;
    }
    watch->folder_failing = false;
    return code ? error_set(err, code, "%s", why.text) : 0;
}

static int take_all(struct watch *watch, struct error *err)
{
    bool any = true;
    int code = 0;
    while (!code && any && !is_over(watch)) {
        code = watch_block_do(&any, &watch->folder, &watch->session, &stopped, err);
    }
    return code;
}

/* Once, all frames are taken in the order of their names, so none before the last is complete. */
static int follow(struct watch *watch, struct error *err)
{
    bool once = watch->session.settings->once;
    while (!is_over(watch)) {
        int code = look(watch, err);
        if (!code && !(once && folder_is_growing(&watch->folder))) {
            code = take_all(watch, err);
        }
        if (code) {
            return code;
        }
        bool growing = folder_is_growing(&watch->folder);
        session_tick(&watch->session);
        if (once && !growing) {
            break;
        }
        folder_wait(&watch->folder, growing                      ? settling_poll_s
                                    : watch->folder.reports >= 0 ? report_poll_s
                                                                 : poll_s);
    }
    return 0;
}

static void say_hello(const struct watch_session *session)
{
    int known = session->before.count;
    if (session->style.json) {
        return;
    }
    fprintf(session->out, "Following %s for %s; the log is %s.\n", session->path,
            session->context.target.name, session->log.name);
    if (known) {
        fprintf(session->out, "%d frame%s from the log %s not solved again.\n", known,
                known == 1 ? "" : "s", known == 1 ? "is" : "are");
    }
    fflush(session->out);
}

static int conclude(struct watch_session *session, struct error *err)
{
    if (!session->style.json) {
        fprintf(session->out, "%ld new frame%s, %ld solved, %ld alert%s.\n", session->frames,
                session->frames == 1 ? "" : "s", session->solved, session->told,
                session->told == 1 ? "" : "s");
    }
    return night_log_sync(&session->log, err);
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    const struct watch_settings *settings = given;
    struct watch *watch = calloc(1, sizeof *watch);
    (void)operands;
    if (!watch) {
        return error_memory(err);
    }
    int code = folder_open(&watch->folder, operand[0], settings->poll, err);
    if (!code) {
        code = session_open(&watch->session, settings, operand[0], out, err);
    }
    if (!code) {
        catch_stops();
        say_hello(&watch->session);
        code = follow(watch, err);
        code = code ? code : conclude(&watch->session, err);
    }
    session_close(&watch->session);
    folder_close(&watch->folder);
    free(watch);
    return code;
}

const struct command command_watch = {
    .name = "watch",
    .summary = "Follow the folder where frames arrive, and speak up when something must be done.",
    .operands = "DIR",
    .least = 1,
    .most = 1,
    .about =
        "Every new frame gets a line: the camera's clock, how good it is, where the target is and "
        "for how many frames it stays in the safe part, how wide and how many its stars are. A "
        "large message with the bell comes when the camera must be re-centred (soon, now, and "
        "whether it went well), when stars trail or widen, for cloud, dew, a bright sky, a knock, "
        "changed settings, when no frame comes, and when the disk gets full. One bad frame is no "
        "reason.\n\nFrames are taken when they are complete; hidden files and names of unfinished "
        "copies do not count, and of a raw file with its JPEG only the raw one does. Subfolders "
        "are not looked into. Stop with Ctrl-C; the next start goes on from the log.",
    .options = options,
    .defaults = &defaults,
    .settings_size = sizeof(struct watch_settings),
    .run = run,
};
