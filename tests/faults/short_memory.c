/* A library to be preloaded: of the allocations of this process, and of those that it splits into,
 * the one numbered SHORT_AT fails, and with SHORT_ON all that follow; with SHORT_SHOW it is shown who
 * asked for it. SHORT_COUNT names a file to which the number of them is written at the end. What
 * GLib, Pango, Fontconfig, json-c and libseccomp ask for, or is asked for on their behalf, is always
 * given: GLib ends the program where it is not (g_malloc), the others crash or go in circles, which is
 * theirs to mend. */
#define _GNU_SOURCE

#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The C library's own, under the names that it keeps for such a purpose. */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *block, size_t size);
void *__libc_memalign(size_t alignment, size_t size);

enum { LIBRARIES = 128, DEEPEST = 64 };

static struct {
    uintptr_t start, end;
} spared[LIBRARIES];
static int spared_count;
static atomic_long made;
static atomic_bool begun;
static long fail_at;
static bool fail_on;
static pid_t first_process;

static bool is_of_spared(const void *caller)
{
    for (int i = 0; i < spared_count; i++) {
        if ((uintptr_t)caller >= spared[i].start && (uintptr_t)caller < spared[i].end) {
            return true;
        }
    }
    return false;
}

/* Looks for such a library among all who wait for this allocation. */
static bool is_spared(void)
{
    static _Thread_local bool looking;
    void *caller[DEEPEST];
    bool spared_one = looking; /* by the look itself */
    if (!looking) {
        looking = true;
        int count = backtrace(caller, DEEPEST);
        for (int i = 0; i < count; i++) {
            spared_one = spared_one || is_of_spared(caller[i]);
        }
        if (!spared_one && getenv("SHORT_SHOW")) {
            backtrace_symbols_fd(caller, count, STDERR_FILENO);
        }
        looking = false;
    }
    return spared_one;
}

/* Those of /proc/self/maps by their names: read without any allocation. */
static void find_spared(void)
{
    static const char *const names[] = {"libglib",      "libgobject", "libgio",       "libpango",
                                        "libharfbuzz",  "libfribidi", "libfontconfig", "libfreetype",
                                        "ld-linux",     "libthai",    "libdatrie",  "libjson-c",    "libseccomp"};
    static char text[1 << 17];
    int file = open("/proc/self/maps", O_RDONLY | O_CLOEXEC);
    ssize_t length = 0, more = 1;
    while (file >= 0 && more > 0 && length < (ssize_t)sizeof text - 1) {
        more = read(file, text + length, sizeof text - 1 - (size_t)length);
        length += more > 0 ? more : 0;
    }
    close(file);
    for (char *line = text, *end; (end = strchr(line, '\n')) != NULL; line = end + 1) {
        *end = '\0';
        for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
            if (strstr(line, names[i]) && spared_count < LIBRARIES) {
                char *dash;
                spared[spared_count].start = strtoull(line, &dash, 16);
                spared[spared_count++].end = strtoull(dash + 1, NULL, 16);
                break;
            }
        }
    }
}

__attribute__((constructor)) static void begin(void)
{
    const char *at = getenv("SHORT_AT");
    fail_at = at ? atol(at) : 0;
    fail_on = getenv("SHORT_ON") != NULL;
    first_process = getpid();
    void *caller[DEEPEST];
    backtrace(caller, DEEPEST); /* which loads what it needs, with locks that a later one may want */
    find_spared();
    atomic_store(&begun, true);
}

__attribute__((destructor)) static void end(void)
{
    const char *name = getenv("SHORT_COUNT");
    char number[32];
    int file = name && getpid() == first_process
                   ? open(name, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600)
                   : -1;
    if (file >= 0) {
        int length = snprintf(number, sizeof number, "%ld\n", atomic_load(&made));
        if (write(file, number, (size_t)length) != length) {
            _exit(99);
        }
        close(file);
    }
}

static bool fails(void)
{
    if (!atomic_load(&begun)) {
        return false;
    }
    long number = atomic_fetch_add(&made, 1) + 1;
    bool short_of =
        fail_at > 0 && (number == fail_at || (fail_on && number > fail_at)) && !is_spared();
    errno = short_of ? ENOMEM : errno;
    return short_of;
}

void *malloc(size_t size)
{
    return fails() ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    return fails() ? NULL : __libc_calloc(count, size);
}

void *realloc(void *block, size_t size)
{
    return fails() ? NULL : __libc_realloc(block, size);
}

void *aligned_alloc(size_t alignment, size_t size)
{
    return fails() ? NULL : __libc_memalign(alignment, size);
}

int posix_memalign(void **block, size_t alignment, size_t size)
{
    void *given = fails() ? NULL : __libc_memalign(alignment, size);
    *block = given ? given : *block;
    return given ? 0 : ENOMEM;
}
