#include "cli/alert_command.h"
#include "cli/cli_commands.h"
#include "cli/find_target.h"
#include "cli/index_place.h"
#include "cli/run_options.h"
#include "cli/solve_report.h"
#include "cli/watch_folder.h"
#include "cli/watch_guide.h"
#include "cli/watch_report.h"

#include "base/parallel.h"
#include "night/night_log.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

/* Frames that wait are taken so many at a time: each is expected where the last one of the block
 * before it says. A fixed number, so that answers do not depend on the threads. */
enum { BLOCK = 8, MOST_TRIES = 3 };

static const char usual_log[] = "alidade-night.jsonl";
static const double usual_quiet_s = 60, quiet_intervals = 5;
static const double poll_s = 1, report_poll_s = 5, settling_poll_s = 0.25;

struct watch_settings {
    struct aim_settings aim; /* with what follows put into it when the run begins */
    struct hint_settings hints;
    const char *index, *catalogs;
    const char *log, *on_alert;
    int warn;
    double quiet_s;
    bool once, poll, red;
};

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
     .help = "stop when all frames that are there are through",
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

/* Everything of a run. */
struct watch {
    const struct watch_settings *settings;
    struct aim_settings aim;
    struct aim_context context;
    struct watch_style style;
    struct watch_folder folder;
    struct night_log log;
    struct night_list known;      /* from the log, as it was at the start */
    struct night_frame **by_name; /* of these */
    struct watch_guide guide;
    struct alerts alerts;
    FILE *out;
    const char *path;

    long frames, solved, alerts_told, resumed; /* of this run, but for the resumed ones */
    double mean_bytes;
    double arrived_s; /* when the latest frame came, now_s */
    bool log_failing, folder_failing;
    int code;
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

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void complain(const struct error *err)
{
    fprintf(stderr, "alidade watch: %s\n", err->text);
}

static const char *base_name(const char *name)
{
    const char *slash = strrchr(name, '/');
    return slash ? slash + 1 : name;
}

static int compare_known(const void *a, const void *b)
{
    const struct night_frame *const *one = a, *const *two = b;
    return strcmp(base_name((*one)->name), base_name((*two)->name));
}

/* The frame of the log that is this very file; NULL if there is none, or it has been replaced. */
static const struct night_frame *find_known(const struct watch *watch,
                                            const struct folder_file *file)
{
    struct night_frame key = {.name = file->name}, *wanted = &key;
    struct night_frame **found = watch->known.count
                                     ? bsearch(&wanted, watch->by_name, (size_t)watch->known.count,
                                               sizeof *watch->by_name, compare_known)
                                     : NULL;
    bool same = found && (*found)->bytes == file->size && (*found)->modified_ns == file->changed_ns;
    return same ? *found : NULL;
}

/* The log tells what the night was like until now; nothing of it is said again. */
static int replay(struct watch *watch, struct error *err)
{
    struct alert unsaid[ALERTS_MOST];
    struct night_step step;
    for (int i = 0; i < watch->known.count; i++) {
        guide_step(&step, &watch->guide, &watch->known.frame[i]);
        alerts_feed(unsaid, &watch->alerts, &watch->known.frame[i], &step);
    }
    int code = night_list_last_of_each(&watch->known, err);
    watch->by_name = calloc((size_t)watch->known.count + 1, sizeof *watch->by_name);
    if (code || !watch->by_name) {
        return code ? code : error_memory(err);
    }
    for (int i = 0; i < watch->known.count; i++) {
        watch->by_name[i] = &watch->known.frame[i];
    }
    qsort(watch->by_name, (size_t)watch->known.count, sizeof *watch->by_name, compare_known);
    return 0;
}

static void run_command(const struct watch *watch, const struct alert *alert, const char *frame)
{
    struct error err = {0};
    const struct alert_message message = {alert_key(alert->kind), alert_title(alert->kind),
                                          alert->text, frame};
    if (watch->settings->on_alert && alert_is_loud(alert->kind) &&
        alert_command_start(watch->settings->on_alert, &message, &err)) {
        complain(&err);
    }
}

/* frame and solved may be NULL. */
static void say(struct watch *watch, const struct alert *alert, int count,
                const struct night_frame *frame, const struct solved_frame *solved, double every_s)
{
    struct aim_answer *answer = NULL;
    for (int i = 0; i < count; i++) {
        bool wants = solved && solved->solution.solved && alert_wants_move(alert[i].kind);
        if (wants && !answer && (answer = calloc(1, sizeof *answer)) != NULL) {
            guide_advise(answer, &watch->guide, solved, every_s);
        }
        watch_report_alert(watch->out, &watch->style, &alert[i], frame, wants ? answer : NULL);
        run_command(watch, &alert[i], frame ? frame->name : "");
        watch->alerts_told += alert_is_loud(alert[i].kind);
    }
    free(answer);
}

static void tell_log(struct watch *watch, int code, const struct error *err)
{
    if (code && !watch->log_failing) {
        complain(err);
        fprintf(stderr, "alidade watch: frames are still followed, and their lines kept until it "
                        "can be written\n");
    }
    watch->log_failing = code != 0;
}

/* What all that is known of one file becomes: in the order of the frames, on one thread at a time.
 */
static void take_in(struct watch *watch, struct night_frame *frame,
                    const struct solved_frame *solved)
{
    struct alert told[ALERTS_MOST];
    struct night_step step;
    struct error err = {0};
    night_frame_aim(frame, &watch->context.target);
    guide_step(&step, &watch->guide, frame);
    int count = alerts_feed(told, &watch->alerts, frame, &step);
    watch_report_frame(watch->out, &watch->style, frame, &step);
    say(watch, told, count, frame, solved, step.every_s);
    tell_log(watch, night_log_add(&watch->log, frame, &err), &err);
    fflush(watch->out);
    watch->frames++;
    watch->solved += frame->solved;
    watch->mean_bytes += ((double)frame->bytes - watch->mean_bytes) / (double)watch->frames;
    watch->arrived_s = now_s();
}

/* A file of the block that is worked on. */
struct job {
    char *path;
    struct folder_file file; /* as it was when it was taken; name borrowed from path */
    struct solved_frame solved;
    struct error err;
    int code;
    bool ready;
};

struct block {
    struct watch *watch;
    struct job job[BLOCK];
    int jobs;
    struct solve_before before;

    pthread_mutex_t lock; /* guards what follows, ready, and the watch */
    int next;
};

/* Whether it is the file that was taken, unchanged. */
static bool is_as_taken(const struct job *job)
{
    struct stat info;
    return stat(job->path, &info) == 0 && (int64_t)info.st_size == job->file.size &&
           (int64_t)info.st_mtim.tv_sec * 1000000000 + info.st_mtim.tv_nsec == job->file.changed_ns;
}

/* A file that has vanished or was written to meanwhile says nothing: in the latter case it will be
 * ready anew. One that cannot be read may not be complete; it is tried again before that is told.
 */
static bool is_to_be_told(struct watch *watch, const struct job *job)
{
    return is_as_taken(job) &&
           (job->code != ERROR_INPUT ||
            !folder_put_back(&watch->folder, job->file.name, MOST_TRIES, now_s()));
}

static void finish(struct watch *watch, struct job *job)
{
    struct night_frame frame = {0};
    struct error err = {0};
    if (is_to_be_told(watch, job)) {
        int code = solved_frame_note(&frame, &job->solved, job->code ? &job->err : NULL, &err);
        if (code) {
            complain(&err);
        } else {
            frame.bytes = job->file.size;
            frame.modified_ns = job->file.changed_ns;
            take_in(watch, &frame, job->code ? NULL : &job->solved);
        }
    }
    night_frame_free(&frame);
    solved_frame_free(&job->solved);
}

static void work(int item, void *context)
{
    struct block *block = context;
    struct job *job = &block->job[item];
    job->code = stopped ? ERROR_NO
                        : frame_solve_after(&job->solved, job->path, &block->watch->context.solver,
                                            &block->before, &job->err);
    pthread_mutex_lock(&block->lock);
    job->ready = true;
    while (block->next < block->jobs && block->job[block->next].ready) {
        struct job *next = &block->job[block->next++];
        if (next->code != ERROR_NO) { /* else it was not begun */
            finish(block->watch, next);
        }
    }
    pthread_mutex_unlock(&block->lock);
}

static int fill_block(struct block *block, struct watch *watch, struct error *err)
{
    const struct folder_file *taken[BLOCK];
    int count = folder_take(taken, BLOCK, &watch->folder);
    block->watch = watch;
    block->before = watch->guide.before;
    for (int i = 0; i < count; i++) {
        if (find_known(watch, taken[i])) {
            watch->resumed++;
            continue;
        }
        size_t folder = strlen(watch->path), size = folder + strlen(taken[i]->name) + 2;
        struct job *job = &block->job[block->jobs];
        job->path = malloc(size);
        if (!job->path) {
            return error_memory(err);
        }
        bool slash = folder && watch->path[folder - 1] == '/';
        snprintf(job->path, size, "%s%s%s", watch->path, slash ? "" : "/", taken[i]->name);
        job->file = *taken[i];
        job->file.name = strrchr(job->path, '/') + 1;
        block->jobs++;
    }
    return count;
}

/* Takes the next few frames that are ready. *any: there were some. */
static int do_block(bool *any, struct watch *watch, struct error *err)
{
    struct block *block = calloc(1, sizeof *block);
    int threads = watch->aim.threads > 0 ? watch->aim.threads : parallel_processors();
    if (!block) {
        return error_memory(err);
    }
    pthread_mutex_init(&block->lock, NULL);
    int count = fill_block(block, watch, err);
    *any = count > 0;
    parallel_each(block->jobs, threads, work, block);
    struct error unsafe = {0};
    int synced = block->jobs ? night_log_sync(&watch->log, &unsafe) : 0;
    tell_log(watch, synced, &unsafe);
    for (int i = 0; i < BLOCK; i++) {
        free(block->job[i].path);
    }
    pthread_mutex_destroy(&block->lock);
    free(block);
    return err->code;
}

/* Room on the disk of the folder, in frames; -1: unknown. */
static double find_room(const struct watch *watch)
{
    struct statvfs disk;
    if (watch->mean_bytes <= 0 || statvfs(watch->path, &disk) != 0 || disk.f_blocks == 0 ||
        disk.f_flag & ST_RDONLY) {
        return -1;
    }
    return (double)disk.f_bavail * (double)disk.f_frsize / watch->mean_bytes;
}

/* What is to be seen without a new frame. */
static void look_around(struct watch *watch)
{
    struct alert told[ALERTS_MOST];
    double every_s = watch->guide.gaps ? watch->guide.gap_s[0] : 0, quiet_s = usual_quiet_s;
    quiet_s = every_s * quiet_intervals > quiet_s ? every_s * quiet_intervals : quiet_s;
    quiet_s = watch->settings->quiet_s > 0 ? watch->settings->quiet_s : quiet_s;
    const struct alert_watch sight = {.waited_s = watch->frames ? now_s() - watch->arrived_s : 0,
                                      .quiet_s = quiet_s,
                                      .free_frames = find_room(watch)};
    int count = alerts_tick(told, &watch->alerts, &sight);
    say(watch, told, count, NULL, NULL, 0);
    fflush(watch->out);
    alert_command_reap();
}

/* A folder that cannot be read any more may come back: a card, a network drive. */
static int look(struct watch *watch, struct error *err)
{
    struct error why = {0};
    int code = folder_look(&watch->folder, now_s(), &why);
    if (code == ERROR_INPUT && !watch->settings->once) {
        if (!watch->folder_failing) {
            complain(&why);
        }
        watch->folder_failing = true;
        return 0;
    }
    watch->folder_failing = false;
    return code ? error_set(err, code, "%s", why.text) : 0;
}

static int follow(struct watch *watch, struct error *err)
{
    bool any = false;
    while (!stopped && !ferror(watch->out)) {
        int code = look(watch, err);
        do {
            code = code ? code : do_block(&any, watch, err);
        } while (!code && any && !stopped && !ferror(watch->out));
        if (code) {
            return code;
        }
        bool growing = folder_is_growing(&watch->folder);
        look_around(watch);
        if (watch->settings->once && !growing) {
            break;
        }
        folder_wait(&watch->folder, growing                      ? settling_poll_s
                                    : watch->folder.reports >= 0 ? report_poll_s
                                                                 : poll_s);
    }
    return 0;
}

static int open_log(struct watch *watch, struct error *err)
{
    char name[4096];
    const char *slash = watch->path[strlen(watch->path) - 1] == '/' ? "" : "/";
    snprintf(name, sizeof name, "%s%s%s", watch->path, slash, usual_log);
    int code = night_log_open(&watch->log, &watch->known,
                              watch->settings->log ? watch->settings->log : name, err);
    if (code == ERROR_OUTPUT && !watch->settings->log) {
        size_t used = strlen(err->text);
        snprintf(err->text + used, sizeof err->text - used, "; name another place with --log");
    }
    return code;
}

static int begin(struct watch *watch, const struct watch_settings *settings, const char *path,
                 struct error *err)
{
    watch->settings = settings;
    watch->path = path;
    watch->aim = settings->aim;
    watch->aim.hints = settings->hints;
    watch->aim.index = settings->index;
    watch->aim.catalogs = settings->catalogs;
    watch->context.settings = &watch->aim;
    watch->guide.context = &watch->context;
    watch->alerts.wish = (struct alert_wish){settings->warn, settings->aim.batch};
    watch->style = (struct watch_style){.json = settings->aim.json,
                                        .terminal = isatty(fileno(watch->out)) != 0,
                                        .red = settings->red};
    int code = target_find(&watch->context, err);
    if (!code) {
        code = folder_open(&watch->folder, path, settings->poll, err);
    }
    if (!code) {
        code = solver_open(&watch->context.solver, watch->aim.index, watch->aim.catalogs,
                           &watch->aim.hints, err);
    }
    if (!code) {
        code = open_log(watch, err);
    }
    watch->context.solver.want_health = true;
    return code ? code : replay(watch, err);
}

static void say_hello(const struct watch *watch)
{
    if (watch->style.json) {
        return;
    }
    fprintf(watch->out, "Following %s for %s; the log is %s.\n", watch->path,
            watch->context.target.name, watch->log.name);
    if (watch->known.count) {
        fprintf(watch->out, "%d frame%s from the log %s not solved again.\n", watch->known.count,
                watch->known.count == 1 ? "" : "s", watch->known.count == 1 ? "is" : "are");
    }
    fflush(watch->out);
}

static int conclude(struct watch *watch, struct error *err)
{
    if (!watch->style.json) {
        fprintf(watch->out, "%ld new frame%s, %ld solved, %ld alert%s.\n", watch->frames,
                watch->frames == 1 ? "" : "s", watch->solved, watch->alerts_told,
                watch->alerts_told == 1 ? "" : "s");
    }
    return night_log_sync(&watch->log, err);
}

static void end(struct watch *watch)
{
    night_log_close(&watch->log);
    night_list_free(&watch->known);
    free(watch->by_name);
    folder_close(&watch->folder);
    solver_close(&watch->context.solver);
    objects_free(&watch->context.objects);
    free(watch);
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct watch *watch = calloc(1, sizeof *watch);
    (void)operands;
    if (!watch) {
        return error_memory(err);
    }
    watch->out = out;
    int code = begin(watch, given, operand[0], err);
    if (!code) {
        catch_stops();
        say_hello(watch);
        code = follow(watch, err);
        code = code ? code : conclude(watch, err);
    }
    end(watch);
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
