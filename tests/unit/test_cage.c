#define _GNU_SOURCE /* O_TMPFILE, syscall */

#include "base/parallel.h"
#include "cage/cage.h"
#include "cage/cage_adopt.h"
#include "cage/cage_message.h"
#include "frame_reading.h"
#include "picture_maker.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

Suite *cage_suite(void);

static struct sample_picture sample;

/* A decoder that a picture has taken over, in a worker: what it tries stands in the name. Says
 * "got through" of what should have been denied. */

static bool may_write(const char *path)
{
    int file = open(path, O_WRONLY | O_CREAT, 0600);
    int other = open(path, O_RDWR);
    return file >= 0 || other >= 0 || unlink(path) == 0 || rename(path, "elsewhere") == 0 ||
           truncate(path, 0) == 0 || chmod(path, 0777) == 0 || mkdir("folder-of-cage", 0700) == 0;
}

static bool may_leave(void)
{
    pid_t child = fork();
    if (child == 0) {
        _exit(0);
    }
    char *const words[] = {"true", NULL};
    return child > 0 || socket(AF_INET, SOCK_STREAM, 0) >= 0 ||
           socket(AF_UNIX, SOCK_STREAM, 0) >= 0 || kill(getppid(), SIGKILL) == 0 ||
           execv("/bin/true", words) == 0;
}

static int take_over(struct frame *frame, const struct picture_source *source,
                     const struct frame_options *options, struct error *err)
{
    const char *deed = strrchr(source->name, '/') ? strrchr(source->name, '/') + 1 : source->name;
    volatile unsigned turns = 1;
    bool through = false;
    (void)options;
    memset(frame, 0, sizeof *frame);
    if (strcmp(deed, "crash") == 0) {
        signal(SIGSEGV, SIG_DFL); /* without the words of a sanitizer */
        raise(SIGSEGV);
    } else if (strcmp(deed, "exit") == 0) {
        _exit(7);
    } else if (strcmp(deed, "turn") == 0) {
        while (turns) {
            turns |= 1;
        }
    } else if (strcmp(deed, "sleep") == 0) {
        sleep(1000);
    } else if (strcmp(deed, "memory") == 0) {
        char *volatile block = malloc(300000000);
        bool got = block != NULL;
        free(block);
        return got ? error_set(err, ERROR_INPUT, "got through") : error_memory(err);
    } else if (strncmp(deed, "write", 5) == 0) {
        through = may_write(source->name);
    } else if (strcmp(deed, "leave") == 0) {
        through = may_leave();
    }
    return error_set(err, ERROR_INPUT, through ? "got through" : "held");
}

static const struct cage_limits tight = {.memory_mb = 200, .seconds = 1, .read = take_over};

static struct cage *cage_of(const struct cage_limits *limits)
{
    struct cage *cage = NULL;
    struct error err = {0};
    ck_assert_msg(cage_open(&cage, limits, &err) == 0, "%s", err.text);
    return cage;
}

static void read_as(const struct cage *cage, const char *name, struct error *err)
{
    const struct frame_options how = {.reader = cage_reader(cage)};
    struct frame frame;
    memset(err, 0, sizeof *err);
    ck_assert_int_eq(frame_read(&frame, name, &how, err), ERROR_INPUT);
    ck_assert_ptr_null(frame.luminance.value);
}

START_TEST(test_caged_like_free)
{
    const char *path;
    struct frame free_one = {0}, caged = {0};
    struct error err = {0};
    struct cage *cage = cage_of(&(struct cage_limits){0});
    picture_fill(&sample, 37, 29, 3, 8);
    path = png_make("picture.png", &sample,
                    &(struct png_kind){.colour = PNG_COLOR_TYPE_RGB, .depth = 8}, 0, 0);
    const struct frame_options ways[] = {
        {.want_picture = true}, {.want_picture = false}, {.max_plane_pixels = 200}};
    for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
        struct frame_options how = ways[i];
        ck_assert_int_eq(frame_read(&free_one, path, &how, &err), 0);
        how.reader = cage_reader(cage);
        ck_assert_msg(frame_read(&caged, path, &how, &err) == 0, "%s", err.text);
        check_same_frame(&caged, &free_one);
        frame_free(&caged);
        check_from_memory(&free_one, path, &how);
        frame_free(&free_one);
    }
    cage_close(cage);
}
END_TEST

START_TEST(test_refusals_keep_their_words)
{
    struct error free_one = {0}, caged = {0};
    struct frame frame;
    struct cage *cage = cage_of(&(struct cage_limits){0});
    const char *path = scratch_path("no-such.png");
    ck_assert_int_eq(frame_read(&frame, path, &plane_only, &free_one), ERROR_INPUT);
    read_as(cage, path, &caged);
    ck_assert_str_eq(caged.text, free_one.text);
    ck_assert_int_eq(caged.cause, free_one.cause);
    cage_close(cage);
}
END_TEST

/* What perishes costs its own frame; the next is read by a new worker. */
START_TEST(test_what_perishes)
{
    static const struct {
        const char *name, *words;
        enum error_cause cause;
    } deeds[] = {
        {"crash", "crash: reading it failed badly (signal 11)", CAUSE_CONTENT},
        {"exit", "exit: reading it failed badly (end 7)", CAUSE_CONTENT},
        {"turn", "turn: needs more than 1 s of processor time to be read", CAUSE_CONTENT},
#ifndef __SANITIZE_ADDRESS__ /* which takes what memory it likes */
        {"memory", "memory: needs more than 200 MB of memory to be read", CAUSE_MEMORY},
#endif
    };
    struct error err;
    struct cage *cage = cage_of(&tight);
    for (size_t i = 0; i < sizeof deeds / sizeof *deeds; i++) {
        read_as(cage, deeds[i].name, &err);
        ck_assert_msg(strncmp(err.text, deeds[i].words, strlen(deeds[i].words)) == 0, "%s",
                      err.text);
        ck_assert_int_eq(err.cause, deeds[i].cause);
        read_as(cage, "nothing", &err);
        ck_assert_str_eq(err.text, "held");
    }
    cage_close(cage);
}
END_TEST

START_TEST(test_silence)
{
    struct error err;
    struct cage_limits limits = tight;
    limits.silence_s = 1;
    struct cage *cage = cage_of(&limits);
    read_as(cage, "sleep", &err);
    ck_assert_str_eq(err.text, "sleep: no answer for 1 s while it was read");
    ck_assert_int_eq(err.cause, CAUSE_DEVICE);
    cage_close(cage);
}
END_TEST

START_TEST(test_walls)
{
    struct error err;
    struct stat kept;
    struct cage *cage = cage_of(&tight);
    const char *path = scratch_path("write-old");
    FILE *old = fopen(path, "w");
    ck_assert_ptr_nonnull(old);
    fputs("kept", old);
    fclose(old);
    ck_assert_int_eq(chmod(path, 0644), 0);
    read_as(cage, path, &err);
    ck_assert_str_eq(err.text, "held");
    read_as(cage, scratch_path("write-new"), &err);
    ck_assert_str_eq(err.text, "held");
    read_as(cage, "leave", &err);
    ck_assert_str_eq(err.text, "held");
    ck_assert(stat(path, &kept) == 0 && kept.st_size == 4 && (kept.st_mode & 0777) == 0644);
    ck_assert_int_eq(scratch_count(), 1);
    cage_close(cage);
}
END_TEST

static void read_one(int item, void *context)
{
    static const char *const names[] = {"crash", "nothing", "exit"};
    struct error err;
    read_as(context, names[item % 3], &err);
    ck_assert(strcmp(err.text, "held") == 0 || strstr(err.text, "failed badly"));
}

START_TEST(test_many_at_a_time)
{
    struct cage *cage = cage_of(&tight);
    parallel_each(60, 8, read_one, cage);
    cage_close(cage);
}
END_TEST

/* The other side of an adoption: sends what is asked for, and ends with 0 when it is let go. */
static void give(int socket)
{
    struct cage_ask ask;
    memset(&ask, 0, sizeof ask);
    while (cage_receive(socket, &ask, sizeof ask) && ask.size > 0) {
        if (!cage_send(socket, ask.from, ask.size)) {
            _exit(1);
        }
    }
    _exit(ask.size != 0);
}

/* As adopted from a process that has the same memory; told: whether that was let go. */
static int adopt(struct frame *frame, const struct frame *far, bool readable, bool *told)
{
    int pair[2], status = 0;
    bool lives = false;
    ck_assert_int_eq(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    pid_t other = fork();
    if (other == 0) {
        close(pair[0]);
        give(pair[1]);
    }
    close(pair[1]);
    const struct cage_way way = {.socket = pair[0], .worker = readable ? other : 0};
    int code = cage_adopt(frame, far, &way, &lives, NULL);
    close(pair[0]);
    kill(other, lives ? 0 : SIGKILL);
    ck_assert_int_eq(waitpid(other, &status, 0), other);
    *told = WIFEXITED(status) && WEXITSTATUS(status) == 0;
    ck_assert(lives == (code == 0));
    return code;
}

static void frame_of_two(struct frame *frame, float value[2])
{
    *frame = (struct frame){.width = 2, .height = 1, .format = "PNG"};
    frame->luminance = (struct plane){.width = 2, .height = 1, .bin = 1, .value = value};
}

/* Where the system lets no process read another one, bytes are sent. */
START_TEST(test_adoption)
{
    float value[2] = {3, 4};
    struct frame far, frame;
    bool told;
    for (int readable = 0; readable < 2; readable++) {
        frame_of_two(&far, value);
        ck_assert_int_eq(adopt(&frame, &far, readable, &told), 0);
        ck_assert(told && frame.luminance.value != value);
        ck_assert_mem_eq(frame.luminance.value, value, sizeof value);
        frame_free(&frame);
    }
}
END_TEST

/* A worker that was taken over cannot lie its way out. */
START_TEST(test_lies)
{
    float value[2] = {3, 4};
    char elsewhere[] = "no constant of the program";
    struct frame far[8], frame;
    bool told;
    for (int i = 0; i < 8; i++) {
        frame_of_two(&far[i], value);
    }
    far[0].width = 60001;
    far[1].luminance.height = -1;
    far[2].luminance.width = far[2].luminance.height = 30000;
    far[3].format = elsewhere;
    far[4].facts.iso.source = (const char *)8;
    far[5].facts.start_utc.decimals = 99;
    far[6].picture.profile_size = (size_t)1 << 40;
    far[7].luminance.value = (float *)16; /* no memory of that process */
    for (int i = 0; i < 8; i++) {
        ck_assert_msg(adopt(&frame, &far[i], true, &told) == ERROR_INPUT, "lie %d", i);
        ck_assert_ptr_null(frame.luminance.value);
    }
}
END_TEST

Suite *cage_suite(void)
{
    Suite *suite = suite_create("cage");
    TCase *reading = tcase_create("reading");
    tcase_add_checked_fixture(reading, scratch_make, scratch_remove);
    tcase_set_timeout(reading, 60);
    tcase_add_test(reading, test_caged_like_free);
    tcase_add_test(reading, test_refusals_keep_their_words);
    tcase_add_test(reading, test_what_perishes);
    tcase_add_test(reading, test_silence);
    tcase_add_test(reading, test_walls);
    tcase_add_test(reading, test_many_at_a_time);
    suite_add_tcase(suite, reading);
    TCase *lies = tcase_create("adoption");
    tcase_add_test(lies, test_adoption);
    tcase_add_test(lies, test_lies);
    suite_add_tcase(suite, lies);
    return suite;
}
