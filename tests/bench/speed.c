/* tests/bench/speed.c: times and memory of whole programs, side by side on the same files.
 *
 * speed detect FRAME         the program to compare with: reads a frame (of camera raw, only lets
 *                            LibRaw unpack it) and runs a detector, no more
 * speed read FRAME           reads a frame as alidade does, no more
 * speed compare FRAME...     `alidade solve` and the two above in turn; medians and their ratios
 * speed open                 how long opening the index takes
 * speed run COMMAND...       runs a command and says what it took; --key names the numbers */
#define _DEFAULT_SOURCE /* wait4: POSIX has no way to ask what one child took */

#include "image/frame.h"
#include "match/index.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <fcntl.h>
#include <libraw/libraw.h>
#include <sep.h>
#include <spawn.h>
#include <stddef.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

enum { MOST_ROUNDS = 99, OPENINGS = 301 };

/* As alidade solve bins. */
static const long most_plane_pixels = 8000000;

struct settings {
    const char *alidade, *index, *numbers, *key;
    const char *self;
    int rounds;
    double threshold;
};

static void note(const struct settings *s, const char *what, double value)
{
    char key[120];
    bool own = s->key == NULL;
    snprintf(key, sizeof key, "speed.%s%s%s", own ? "" : s->key, own ? "" : ".", what);
    bench_note(s->numbers, key, value);
}

/* ---- the program to compare with ---- */

static void require_sep(int status)
{
    if (status) {
        char text[61];
        sep_get_errmsg(status, text);
        fprintf(stderr, "speed: sep: %s\n", text);
        exit(2);
    }
}

/* Background and extraction as SEP's documentation recommends. */
static int extract(struct plane *plane, double threshold)
{
    static const float filter[9] = {1, 2, 1, 2, 4, 2, 1, 2, 1};
    sep_bkg *background = NULL;
    sep_catalog *catalog = NULL;
    sep_image image = {.data = plane->value,
                       .dtype = SEP_TFLOAT,
                       .w = plane->width,
                       .h = plane->height,
                       .noise_type = SEP_NOISE_NONE};
    sep_set_extract_pixstack(4000000);
    require_sep(sep_background(&image, 64, 64, 3, 3, 0, &background));
    require_sep(sep_bkg_subarray(background, plane->value, SEP_TFLOAT));
    float least = (float)threshold * sep_bkg_globalrms(background);
    require_sep(sep_extract(&image, least, SEP_THRESH_ABS, 5, filter, 3, 3, SEP_FILTER_CONV, 32,
                            0.005, 1, 1, &catalog));
    int sources = catalog->nobj;
    sep_catalog_free(catalog);
    sep_bkg_free(background);
    return sources;
}

/* A Bayer mosaic as LibRaw alone unpacks it; the least that can be done for a detector is to add up
 * its cells. */
static int unpack(struct frame *frame, const char *name, struct error *err)
{
    libraw_data_t *raw = libraw_init(0);
    if (!raw || libraw_open_file(raw, name) || libraw_unpack(raw)) {
        return error_set(err, ERROR_INPUT, "%s: LibRaw cannot unpack it", name);
    }
    struct plane *plane = &frame->luminance;
    size_t stride = raw->sizes.raw_width;
    plane->width = raw->sizes.width / 2;
    plane->height = raw->sizes.height / 2;
    plane->value = malloc((size_t)plane->width * (size_t)plane->height * sizeof *plane->value);
    for (int y = 0; plane->value && y < plane->height; y++) {
        const unsigned short *row = raw->rawdata.raw_image + 2 * (size_t)y * stride;
        float *out = plane->value + (size_t)y * (size_t)plane->width;
        for (int x = 0; x < plane->width; x++) {
            out[x] = (float)(row[2 * x] + row[2 * x + 1] + row[stride + 2 * (size_t)x] +
                             row[stride + 2 * (size_t)x + 1]);
        }
    }
    libraw_close(raw);
    return plane->value ? 0 : error_memory(err);
}

static void detect(const char *name, double threshold)
{
    const struct frame_options how = {.max_plane_pixels = most_plane_pixels};
    const char *ending = strrchr(name, '.');
    bool raw = ending && strcmp(ending, ".dng") == 0;
    struct frame frame = {0};
    struct error err = {0};
    double start = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    bench_require(raw ? unpack(&frame, name, &err) : frame_read(&frame, name, &how, &err), &err);
    double read = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    int sources = extract(&frame.luminance, threshold);
    double end = bench_ms(CLOCK_THREAD_CPUTIME_ID);
    printf("%s: %d sources; processor time: read %.0f ms, detect %.0f ms\n", name, sources,
           read - start, end - read);
    frame_free(&frame);
}

static void read_alone(const char *name)
{
    const struct frame_options how = {.max_plane_pixels = most_plane_pixels};
    struct frame frame = {0};
    struct error err = {0};
    bench_require(frame_read(&frame, name, &how, &err), &err);
    frame_free(&frame);
}

/* ---- other programs ---- */

struct usage {
    int code;
    double wall_ms, cpu_ms, most_mb;
};

static double seconds(const struct timeval *t)
{
    return (double)t->tv_sec + (double)t->tv_usec * 1e-6;
}

/* Processor time of what a program leaves behind, decoders in processes of their own: this one
 * adopts them. */
static double wait_for_orphans(void)
{
    struct rusage used;
    double ms = 0;
    int status;
    while (wait4(-1, &status, 0, &used) > 0) {
        ms += 1e3 * (seconds(&used.ru_utime) + seconds(&used.ru_stime));
    }
    return ms;
}

/* Runs a program to its end; its output goes to out. */
static struct usage run(char *const *argument, int out)
{
    struct usage usage;
    struct rusage used;
    posix_spawn_file_actions_t actions;
    pid_t child;
    int status;
    prctl(PR_SET_CHILD_SUBREAPER, 1);
    double start = bench_ms(CLOCK_MONOTONIC);
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, out, STDOUT_FILENO);
    if (posix_spawn(&child, argument[0], &actions, NULL, argument, environ) ||
        wait4(child, &status, 0, &used) != child) {
        fprintf(stderr, "speed: %s cannot be run\n", argument[0]);
        exit(2);
    }
    posix_spawn_file_actions_destroy(&actions);
    usage.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128;
    usage.wall_ms = bench_ms(CLOCK_MONOTONIC) - start;
    usage.cpu_ms = 1e3 * (seconds(&used.ru_utime) + seconds(&used.ru_stime)) + wait_for_orphans();
    usage.most_mb = (double)used.ru_maxrss / 1024;
    return usage;
}

/* The number after "key": in the output of a program; NaN if it is not there. */
static double number_after(FILE *output, const char *key)
{
    char text[8192];
    rewind(output);
    size_t size = fread(text, 1, sizeof text - 1, output);
    text[size] = '\0';
    const char *found = strstr(text, key);
    return found ? strtod(found + strlen(key), NULL) : (double)NAN;
}

/* Of one frame, over all rounds. */
struct comparison {
    double solve_cpu[MOST_ROUNDS], detect_cpu[MOST_ROUNDS];
    double solve_wall[MOST_ROUNDS], detect_wall[MOST_ROUNDS];
    double read_cpu[MOST_ROUNDS], read_wall[MOST_ROUNDS];
    double two_wall[MOST_ROUNDS];    /* of a solve on two threads */
    double match_share[MOST_ROUNDS]; /* of read + detect, %, by the program's own account */
    double most_mb;
};

/* What it writes goes to output, where its answer is looked for by the caller. */
static struct usage solve(const struct settings *s, char *frame, const char *threads, FILE *output)
{
    char *solve[] = {(char *)s->alidade, "solve",          "--json", "--threads", (char *)threads,
                     "--index",          (char *)s->index, frame,    NULL};
    struct usage usage = run(solve, fileno(output));
    if (usage.code != 0) {
        fprintf(stderr, "speed: %s did not solve %s\n", s->alidade, frame);
        exit(2);
    }
    return usage;
}

static FILE *open_output(void)
{
    FILE *output = tmpfile();
    if (!output) {
        fprintf(stderr, "speed: no temporary file can be made\n");
        exit(2);
    }
    return output;
}

static void solve_round(struct comparison *c, int round, const struct settings *s, char *frame)
{
    FILE *output = open_output(), *other = open_output();
    struct usage usage = solve(s, frame, "1", output);
    c->two_wall[round] = solve(s, frame, "2", other).wall_ms;
    fclose(other);
    c->solve_cpu[round] = usage.cpu_ms;
    c->solve_wall[round] = usage.wall_ms;
    c->most_mb = fmax(c->most_mb, usage.most_mb);
    double read = number_after(output, "\"read\": "), find = number_after(output, "\"detect\": ");
    c->match_share[round] = 100 * number_after(output, "\"match\": ") / (read + find);
    fclose(output);
}

static struct usage run_other(const struct settings *s, const char *mode, char *frame)
{
    char threshold[40];
    snprintf(threshold, sizeof threshold, "%g", s->threshold);
    char *other[] = {(char *)s->self, "--threshold", threshold, (char *)mode, frame, NULL};
    int sink = open("/dev/null", O_WRONLY);
    struct usage usage = run(other, sink);
    close(sink);
    if (usage.code != 0) {
        fprintf(stderr, "speed: the program to compare with failed on %s\n", frame);
        exit(2);
    }
    return usage;
}

static void detect_round(struct comparison *c, int round, const struct settings *s, char *frame)
{
    struct usage usage = run_other(s, "detect", frame);
    c->detect_cpu[round] = usage.cpu_ms;
    c->detect_wall[round] = usage.wall_ms;
    usage = run_other(s, "read", frame);
    c->read_cpu[round] = usage.cpu_ms;
    c->read_wall[round] = usage.wall_ms;
}

static double plane_mb(const char *name)
{
    const struct frame_options how = {.max_plane_pixels = most_plane_pixels};
    struct frame frame;
    struct error err = {0};
    bench_require(frame_read(&frame, name, &how, &err), &err);
    double mb = (double)frame.luminance.width * frame.luminance.height * 4 / 1048576;
    frame_free(&frame);
    return mb;
}

/* Of one round over another, which a busy machine slows down alike. */
static double median_ratio(const double *a, const double *b, int rounds)
{
    double ratio[MOST_ROUNDS];
    for (int i = 0; i < rounds; i++) {
        ratio[i] = a[i] / b[i];
    }
    return bench_quantile(ratio, rounds, 0.5);
}

/* Returns what a solve on two threads takes over reading alone. */
static double report(const struct settings *s, struct comparison *c, const char *frame)
{
    const char *dot = strrchr(frame, '.');
    double over_read = median_ratio(c->solve_cpu, c->read_cpu, s->rounds);
    double two_over_read = median_ratio(c->two_wall, c->read_wall, s->rounds);
    double solve = bench_quantile(c->solve_cpu, s->rounds, 0.5);
    double other = bench_quantile(c->detect_cpu, s->rounds, 0.5);
    double typical = median_ratio(c->solve_cpu, c->detect_cpu, s->rounds);
    double match = bench_quantile(c->match_share, s->rounds, 0.5);
    double beyond = c->most_mb - plane_mb(frame);
    printf("%-5s %8.0f %8.0f %6.3f %8.0f %8.0f %8.3f %10.1f %10.1f %8.0f %6.2f %6.2f\n",
           dot ? dot + 1 : frame, solve, other, typical,
           bench_quantile(c->solve_wall, s->rounds, 0.5),
           bench_quantile(c->detect_wall, s->rounds, 0.5), match, c->most_mb, beyond,
           bench_quantile(c->read_cpu, s->rounds, 0.5), over_read, two_over_read);
    char key[60];
    snprintf(key, sizeof key, "%s.solve_over_read", dot ? dot + 1 : frame);
    note(s, key, over_read);
    snprintf(key, sizeof key, "%s.solve_over_detect", dot ? dot + 1 : frame);
    note(s, key, typical);
    snprintf(key, sizeof key, "%s.match_percent", dot ? dot + 1 : frame);
    note(s, key, match);
    snprintf(key, sizeof key, "%s.beyond_image_mb", dot ? dot + 1 : frame);
    note(s, key, beyond);
    return two_over_read;
}

/* Frames are kept in memory by the system: each program reads them from there. plane_mb comes last,
 * since what this program ever held counts as held by the ones it starts. */
static void compare(const struct settings *s, char **frame, int frames)
{
    struct comparison *all = bench_calloc((size_t)frames, sizeof *all);
    for (int f = 0; f < frames; f++) {
        for (int round = 0; round < s->rounds; round++) {
            solve_round(&all[f], round, s, frame[f]);
            detect_round(&all[f], round, s, frame[f]);
        }
    }
    printf(
        "Processor time and wall clock, ms, of a whole solve and of reading and SEP (%g sigma); of "
        "reading alone,\nhow often a solve takes that, and how often on two threads by the clock\n"
        "%-5s %8s %8s %6s %8s %8s %8s %10s %10s %8s %6s %6s\n",
        s->threshold, "", "solve", "other", "ratio", "wall", "other", "match %", "most MB",
        "less plane", "read", "ratio", "two");
    double slowest = 0;
    for (int f = 0; f < frames; f++) {
        slowest = fmax(slowest, report(s, &all[f], frame[f]));
    }
    note(s, "two_threads_over_read", slowest);
    free(all);
}

static void open_index(const struct settings *s)
{
    double ms[OPENINGS];
    for (int i = 0; i < OPENINGS; i++) {
        struct index_file index = {0};
        struct error err = {0};
        double start = bench_ms(CLOCK_MONOTONIC);
        bench_require(index_open(&index, s->index, &err), &err);
        ms[i] = bench_ms(CLOCK_MONOTONIC) - start;
        index_close(&index);
    }
    double first = ms[0], median = bench_quantile(ms, OPENINGS, 0.5);
    printf("Opening the index: %.3f ms the first time, %.3f in the median\n", first, median);
    note(s, "open_first_ms", first);
    note(s, "open_median_ms", median);
}

static int run_command(const struct settings *s, char **argument)
{
    struct usage usage = run(argument, STDOUT_FILENO);
    printf("%s: %.2f s, %.2f s of processor time, at most %.0f MB\n", s->key ? s->key : argument[0],
           usage.wall_ms / 1e3, usage.cpu_ms / 1e3, usage.most_mb);
    note(s, "wall_s", usage.wall_ms / 1e3);
    note(s, "cpu_s", usage.cpu_ms / 1e3);
    note(s, "most_mb", usage.most_mb);
    if (usage.code) {
        fprintf(stderr, "speed: %s failed\n", argument[0]);
    }
    return usage.code;
}

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    {"alidade", 0, OPTION_TEXT, "FILE", "Default build/alidade.", AT(alidade), 0, 0, false, NULL,
     NULL},
    BENCH_INDEX_OPTION,
    {"rounds", 0, OPTION_INTEGER, "N", "Default 7.", AT(rounds), 1, MOST_ROUNDS, false, NULL, NULL},
    {"threshold", 0, OPTION_NUMBER, "SIGMA", "Of the detector to compare with; default 3.",
     AT(threshold), 1, 100, false, NULL, NULL},
    BENCH_NUMBERS_OPTION,
    {"key", 0, OPTION_TEXT, "NAME", "What to call the numbers.", AT(key), 0, 0, false, NULL, NULL},
    {0}};

int main(int argc, char **argv)
{
    struct settings s = {.alidade = "build/alidade",
                         .index = "build/hipparcos.alidx",

                         .self = argv[0],
                         .rounds = 7,
                         .threshold = 3};
    struct option_operands rest;
    struct error err = {0};
    bench_require(options_parse(&s, &rest, rows, argc, argv, &err), &err);
    const char *mode = rest.count > 0 ? rest.item[0] : "";
    if (strcmp(mode, "detect") == 0 && rest.count == 2) {
        detect(rest.item[1], s.threshold);
    } else if (strcmp(mode, "read") == 0 && rest.count == 2) {
        read_alone(rest.item[1]);
    } else if (strcmp(mode, "compare") == 0 && rest.count > 1) {
        compare(&s, rest.item + 1, rest.count - 1);
    } else if (strcmp(mode, "open") == 0) {
        open_index(&s);
    } else if (strcmp(mode, "run") == 0 && rest.count > 1) {
        fflush(stdout);
        rest.item[rest.count] = NULL;
        return run_command(&s, rest.item + 1);
    } else {
        printf("usage: speed detect FRAME | read FRAME | compare FRAME... | open | run [--] "
               "COMMAND...\n\n");
        options_write_help(stdout, rows, 80);
        return rest.help ? 0 : 2;
    }
    return 0;
}
