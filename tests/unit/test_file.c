#define _XOPEN_SOURCE 700 /* utimensat */

#include "base/file.h"
#include "base/leftovers.h"
#include "base/lost_pages.h"
#include "scratch.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdbool.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>

Suite *file_suite(void);

static void check_text(const char *path, const char *want)
{
    size_t size;
    unsigned char *bytes = scratch_read(path, &size);
    ck_assert_str_eq((char *)bytes, want);
    free(bytes);
}

START_TEST(test_map)
{
    const char *path = scratch_write("a", "hello", 5);
    struct file_map map = {0};
    struct error err = {0};
    ck_assert_int_eq(file_map_open(&map, path, &err), 0);
    ck_assert_uint_eq(map.size, 5);
    ck_assert_mem_eq(map.bytes, "hello", 5);
    ck_assert_int_eq(err.code, 0);
    file_map_close(&map);
    ck_assert_ptr_null(map.bytes);
    file_map_close(&map);
}
END_TEST

static void write_over(const char *path, const char *bytes, size_t size)
{
    FILE *out = fopen(path, "r+b");
    ck_assert_ptr_nonnull(out);
    ck_assert_uint_eq(fwrite(bytes, 1, size, out), size);
    ck_assert_int_eq(fclose(out), 0);
}

START_TEST(test_output_in_memory)
{
    struct file_bytes bytes = {0};
    const struct file_target target = {"the answer", &bytes};
    struct file_out out = {0};
    ck_assert_int_eq(file_out_open_to(&out, &target, NULL), 0);
    fputs("hello", out.stream);
    ck_assert_int_eq(file_out_commit(&out, NULL), 0);
    ck_assert_uint_eq(bytes.size, 5);
    ck_assert_mem_eq(bytes.bytes, "hello", 5);
    file_bytes_free(&bytes);
    ck_assert_int_eq(file_out_open_to(&out, &target, NULL), 0);
    fputs("half", out.stream);
    file_out_abandon(&out);
    ck_assert(bytes.bytes == NULL && bytes.size == 0);
    ck_assert_int_eq(scratch_count(), 0);
}
END_TEST

START_TEST(test_changed_while_mapped)
{
    static char bytes[3 * 4096] = {1};
    struct file_map map = {0}, other = {0};
    ck_assert(!file_map_changed(&map));
    const char *path = scratch_write("whole", bytes, sizeof bytes);
    ck_assert_int_eq(file_map_open(&map, path, NULL), 0);
    ck_assert(!file_map_changed(&map));
    struct timespec some_ticks = {.tv_nsec = 30000000};
    nanosleep(&some_ticks, NULL);
    write_over(path, "new", 3);
    ck_assert_msg(file_map_changed(&map), "written to");
    ck_assert_int_eq(file_map_open(&other, path, NULL), 0);
    scratch_write("next", "next", 4);
    ck_assert_int_eq(rename(scratch_path("next"), scratch_path("whole")), 0);
    ck_assert_msg(!file_map_changed(&other), "another file has its name");
    file_map_close(&map);
    file_map_close(&other);
}
END_TEST

START_TEST(test_cut_short_while_mapped)
{
    enum { SIZE = 1 << 20 };
    char *bytes = malloc(SIZE);
    ck_assert_ptr_nonnull(bytes);
    memset(bytes, 7, SIZE);
    struct file_map map = {0};
    const char *path = scratch_write("whole", bytes, SIZE);
    ck_assert_int_eq(file_map_open(&map, path, NULL), 0);
    lost_pages_read_as_zeros();
    ck_assert_int_eq(truncate(path, 10), 0);
    for (size_t i = SIZE / 2; i < SIZE; i++) {
        ck_assert_int_eq(map.bytes[i], 0);
    }
    ck_assert_int_eq(map.bytes[9], 7);
    ck_assert(file_map_changed(&map));
    file_map_close(&map);
    free(bytes);
}
END_TEST

/* Both ways of opening refuse the same things with the same sentence. */
static void check_refused(const char *path, const char *reason)
{
    struct file_map map = {0};
    struct error err = {0}, again = {0};
    size_t size = 0;
    ck_assert_int_eq(file_map_open(&map, path, &err), ERROR_INPUT);
    ck_assert_int_eq(err.code, ERROR_INPUT);
    ck_assert_msg(strstr(err.text, path) == err.text, "no name: %s", err.text);
    ck_assert_msg(strstr(err.text, reason) != NULL, "%s, expected: %s", err.text, reason);
    file_map_close(&map);
    ck_assert_ptr_null(file_stream_open(path, &size, &again));
    ck_assert_str_eq(err.text, again.text);
}

START_TEST(test_refused)
{
    check_refused(scratch_path("missing"), "No such file");
    check_refused(scratch_write("empty", "", 0), "is empty");
    check_refused(scratch_folder, "is a folder");
    ck_assert_int_eq(mkfifo(scratch_path("pipe"), 0600), 0);
    check_refused(scratch_path("pipe"), "not a plain file");
    if (geteuid() != 0) { /* root may read everything */
        const char *secret = scratch_write("secret", "x", 1);
        ck_assert_int_eq(chmod(secret, 0), 0);
        check_refused(secret, "denied");
    }
}
END_TEST

START_TEST(test_stream)
{
    struct error err = {0};
    size_t size = 0;
    FILE *stream = file_stream_open(scratch_write("a", "hello", 5), &size, &err);
    ck_assert_ptr_nonnull(stream);
    ck_assert_uint_eq(size, 5);
    ck_assert_int_eq(getc(stream), 'h');
    fclose(stream);
}
END_TEST

START_TEST(test_commit)
{
    struct file_out out = {0};
    struct error err = {0};
    const char *path = scratch_write("target", "old", 3);
    ck_assert_int_eq(chmod(path, 0640), 0);
    ck_assert_int_eq(file_out_open(&out, path, &err), 0);
    ck_assert_int_gt(fputs("new text", out.stream), -1);
    check_text(path, "old");
    ck_assert_int_eq(file_out_commit(&out, &err), 0);
    check_text(path, "new text");
    struct stat info;
    ck_assert_int_eq(stat(path, &info), 0);
    ck_assert_int_eq(info.st_mode & 0777, 0640);
    ck_assert_int_eq(scratch_count(), 1);
    ck_assert_ptr_null(out.name);
}
END_TEST

START_TEST(test_abandon)
{
    struct file_out out = {0};
    struct error err = {0};
    file_out_abandon(&out);
    const char *path = scratch_write("target", "old", 3);
    ck_assert_int_eq(file_out_open(&out, path, &err), 0);
    fputs("half", out.stream);
    file_out_abandon(&out);
    check_text(path, "old");
    ck_assert_int_eq(scratch_count(), 1);
    file_out_abandon(&out);
}
END_TEST

START_TEST(test_two_at_once)
{
    struct file_out a = {0}, b = {0};
    struct error err = {0};
    ck_assert_int_eq(file_out_open(&a, scratch_path("a"), &err), 0);
    ck_assert_int_eq(file_out_open(&b, scratch_path("b"), &err), 0);
    fputs("first", a.stream);
    fputs("second", b.stream);
    ck_assert_int_eq(file_out_commit(&b, &err), 0);
    ck_assert_int_eq(file_out_commit(&a, &err), 0);
    check_text(scratch_path("a"), "first");
    check_text(scratch_path("b"), "second");
}
END_TEST

START_TEST(test_through_link)
{
    struct file_out out = {0};
    struct error err = {0};
    scratch_write("real", "old", 3);
    ck_assert_int_eq(symlink("real", scratch_path("link")), 0);
    ck_assert_int_eq(file_out_open(&out, scratch_path("link"), &err), 0);
    fputs("new", out.stream);
    ck_assert_int_eq(file_out_commit(&out, &err), 0);
    check_text(scratch_path("real"), "new");
    struct stat info;
    ck_assert_int_eq(lstat(scratch_path("link"), &info), 0);
    ck_assert(S_ISLNK(info.st_mode));
}
END_TEST

static void check_unwritable(const char *path, const char *reason)
{
    struct file_out out = {0};
    struct error err = {0};
    ck_assert_int_eq(file_out_open(&out, path, &err), ERROR_OUTPUT);
    ck_assert_msg(strstr(err.text, path) == err.text, "no name: %s", err.text);
    ck_assert_msg(strstr(err.text, reason) != NULL, "%s, expected: %s", err.text, reason);
    ck_assert_ptr_null(out.stream);
    file_out_abandon(&out);
}

START_TEST(test_unwritable)
{
    check_unwritable(scratch_folder, "is a folder");
    check_unwritable(scratch_path("no-such-folder/x"), "No such file");
    check_unwritable("", "found nothing");
}
END_TEST

/* A device is written to, and stays one. */
START_TEST(test_device)
{
    struct file_out out = {0};
    struct error err = {0};
    struct stat info;
    ck_assert_int_eq(file_out_open(&out, "/dev/null", &err), 0);
    fputs("gone", out.stream);
    ck_assert_int_eq(file_out_commit(&out, &err), 0);
    ck_assert_int_eq(stat("/dev/null", &info), 0);
    ck_assert(S_ISCHR(info.st_mode));
}
END_TEST

START_TEST(test_disk_full)
{
    struct file_out out = {0};
    struct error err = {0};
    if (access("/dev/full", W_OK) != 0) {
        return; /* not every system has it */
    }
    ck_assert_int_eq(file_out_open(&out, "/dev/full", &err), 0);
    fputs("gone", out.stream);
    ck_assert_int_eq(file_out_commit(&out, &err), ERROR_OUTPUT);
    ck_assert_msg(strstr(err.text, "No space") != NULL, "%s", err.text);
    ck_assert_ptr_null(out.stream);
}
END_TEST

/* What did not fit a file is said to be that, also where the stream forgot why: a limit of the size
 * of files stands for a full disk. */
START_TEST(test_true_reason)
{
    struct file_out out = {0};
    struct error err = {0};
    const struct rlimit small = {1000, RLIM_INFINITY};
    const struct rlimit large = {RLIM_INFINITY, RLIM_INFINITY};
    char piece[1 << 16] = {0};
    signal(SIGXFSZ, SIG_IGN);
    ck_assert_int_eq(file_out_open(&out, scratch_path("target"), &err), 0);
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &small), 0);
    ck_assert_uint_lt(fwrite(piece, 1, sizeof piece, out.stream), sizeof piece);
    ck_assert_int_ne(ferror(out.stream), 0);
    errno = 0;
    ck_assert_int_eq(file_out_commit(&out, &err), ERROR_OUTPUT);
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &large), 0);
    ck_assert_msg(strstr(err.text, "File too large") != NULL, "%s", err.text);
    ck_assert_int_eq(scratch_count(), 0);
}
END_TEST

static bool is_left(const char *name)
{
    return access(scratch_path(name), F_OK) == 0;
}

/* Makes an empty file that was last written so long ago. */
static void make_aged(const char *name, int seconds)
{
    const char *path = scratch_write(name, "", 0);
    struct timespec then[2];
    clock_gettime(CLOCK_REALTIME, &then[0]);
    then[0].tv_sec -= seconds;
    then[1] = then[0];
    ck_assert_int_eq(utimensat(AT_FDCWD, path, then, 0), 0);
}

/* A process that is surely gone: one of ours that ended. */
static long gone_process(void)
{
    pid_t child = fork();
    if (child == 0) {
        _exit(0);
    }
    ck_assert_int_gt(child, 0);
    ck_assert_int_eq(waitpid(child, NULL, 0), child);
    return (long)child;
}

START_TEST(test_leftovers)
{
    char dead[64], young[64], alive[64], close_one[64], folder[64];
    long gone = gone_process();
    snprintf(dead, sizeof dead, ".alidade-%ld-0.tmp", gone);
    snprintf(young, sizeof young, ".alidade-%ld-1.tmp", gone);
    snprintf(close_one, sizeof close_one, ".alidade-0%ld-0.tmp", gone);
    snprintf(folder, sizeof folder, ".alidade-%ld-2.tmp", gone);
    snprintf(alive, sizeof alive, ".alidade-%ld-7.tmp", (long)getpid());
    make_aged(dead, 120);
    make_aged(young, 10);
    make_aged(close_one, 120);
    make_aged(alive, 120);
    ck_assert_int_eq(mkdir(scratch_path(folder), 0700), 0);
    leftovers_sweep(scratch_path("target"));
    ck_assert(!is_left(dead));
    ck_assert(is_left(young) && is_left(close_one) && is_left(alive) && is_left(folder));
}
END_TEST

/* A process on another machine has a number that means nothing here, but it holds its file. */
START_TEST(test_leftover_is_held)
{
    char name[64];
    int ready[2], done[2];
    char byte = 0;
    snprintf(name, sizeof name, ".alidade-%ld-0.tmp", gone_process());
    make_aged(name, 120);
    ck_assert(pipe(ready) == 0 && pipe(done) == 0);
    pid_t holder = fork();
    if (holder == 0) {
        leftovers_hold(open(scratch_path(name), O_WRONLY));
        _exit(write(ready[1], "x", 1) == 1 && read(done[0], &byte, 1) == 1 ? 0 : 1);
    }
    ck_assert_int_eq(read(ready[0], &byte, 1), 1);
    leftovers_sweep(scratch_path("target"));
    ck_assert(is_left(name));
    ck_assert_int_eq(write(done[1], "x", 1), 1);
    ck_assert_int_eq(waitpid(holder, NULL, 0), holder);
    leftovers_sweep(scratch_path("target"));
    ck_assert(!is_left(name));
}
END_TEST

/* A folder takes the name meanwhile: an error, and the temporary is gone. */
START_TEST(test_rename_fails)
{
    struct file_out out = {0};
    struct error err = {0};
    ck_assert_int_eq(file_out_open(&out, scratch_path("target"), &err), 0);
    ck_assert_int_eq(mkdir(scratch_path("target"), 0700), 0);
    scratch_write("target/inside", "x", 1);
    ck_assert_int_eq(file_out_commit(&out, &err), ERROR_OUTPUT);
    ck_assert_int_eq(scratch_count(), 1);
    unlink(scratch_path("target/inside"));
}
END_TEST

Suite *file_suite(void)
{
    Suite *suite = suite_create("file");
    TCase *c = tcase_create("file");
    tcase_add_checked_fixture(c, scratch_make, scratch_remove);
    tcase_add_test(c, test_map);
    tcase_add_test(c, test_output_in_memory);
    tcase_add_test(c, test_changed_while_mapped);
    tcase_add_test(c, test_cut_short_while_mapped);
    tcase_add_test(c, test_refused);
    tcase_add_test(c, test_stream);
    tcase_add_test(c, test_commit);
    tcase_add_test(c, test_abandon);
    tcase_add_test(c, test_two_at_once);
    tcase_add_test(c, test_through_link);
    tcase_add_test(c, test_unwritable);
    tcase_add_test(c, test_device);
    tcase_add_test(c, test_disk_full);
    tcase_add_test(c, test_true_reason);
    tcase_add_test(c, test_leftovers);
    tcase_add_test(c, test_leftover_is_held);
    tcase_add_test(c, test_rename_fails);
    suite_add_tcase(suite, c);
    return suite;
}
