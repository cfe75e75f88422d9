#define _GNU_SOURCE /* syscall, O_TMPFILE */

#include "cage/cage_walls.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/landlock.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif
#include <seccomp.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

/* All that changes a file or a folder, as far as this version of the kernel's rules knows it. No
 * rule gives any of it back, so that it is forbidden everywhere; reading is not spoken of. */
static uint64_t writing(long version)
{
    uint64_t all =
        LANDLOCK_ACCESS_FS_EXECUTE | LANDLOCK_ACCESS_FS_WRITE_FILE | LANDLOCK_ACCESS_FS_REMOVE_DIR |
        LANDLOCK_ACCESS_FS_REMOVE_FILE | LANDLOCK_ACCESS_FS_MAKE_CHAR |
        LANDLOCK_ACCESS_FS_MAKE_DIR | LANDLOCK_ACCESS_FS_MAKE_REG | LANDLOCK_ACCESS_FS_MAKE_SOCK |
        LANDLOCK_ACCESS_FS_MAKE_FIFO | LANDLOCK_ACCESS_FS_MAKE_BLOCK | LANDLOCK_ACCESS_FS_MAKE_SYM;
    all |= version >= 2 ? 1ULL << 13 : 0; /* to link and rename from folder to folder */
    all |= version >= 3 ? 1ULL << 14 : 0; /* to cut a file short */
    return all;
}

static void forbid_writing(void)
{
    long version = syscall(SYS_landlock_create_ruleset, NULL, 0, LANDLOCK_CREATE_RULESET_VERSION);
    if (version < 1) {
        return;
    }
    const struct landlock_ruleset_attr rules = {.handled_access_fs = writing(version)};
    int set = (int)syscall(SYS_landlock_create_ruleset, &rules, sizeof rules, 0);
    if (set >= 0) {
        (void)syscall(SYS_landlock_restrict_self, set, 0);
        close(set);
    }
}

/* Names of calls that a decoder has no business with; those that a processor lacks are left out. */
static const char *const forbidden[] = {
    "socket",   "connect",   "bind",      "listen",   "accept",     "accept4",
    "execve",   "execveat",  "fork",      "vfork",    "ptrace",     "process_vm_readv",
    "kill",     "tkill",     "unlink",    "unlinkat", "rename",     "renameat",
    "rmdir",    "renameat2", "mkdir",     "mkdirat",  "link",       "linkat",
    "symlink",  "symlinkat", "mknod",     "mknodat",  "truncate",   "process_vm_writev",
    "chmod",    "fchmod",    "fchmodat",  "chown",    "fchown",     "lchown",
    "fchownat", "creat",     "mount",     "umount2",  "bpf",        "perf_event_open",
    "setxattr", "lsetxattr", "fsetxattr", "openat2",  "pidfd_open", "pidfd_getfd",
    "keyctl",   "add_key",   "reboot",    "unshare",  "setns",      "io_uring_setup",
};

static void forbid(scmp_filter_ctx filter, const char *name)
{
    int call = seccomp_syscall_resolve_name(name);
    if (call >= 0) {
        seccomp_rule_add(filter, SCMP_ACT_ERRNO(EPERM), call, 0);
    }
}

/* Files may be opened to read alone. */
static void forbid_opening(scmp_filter_ctx filter)
{
    static const unsigned ways[] = {O_WRONLY, O_RDWR};
    for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
        seccomp_rule_add(filter, SCMP_ACT_ERRNO(EPERM), SCMP_SYS(openat), 1,
                         SCMP_A2(SCMP_CMP_MASKED_EQ, O_ACCMODE, ways[i]));
        seccomp_rule_add(filter, SCMP_ACT_ERRNO(EPERM), SCMP_SYS(open), 1,
                         SCMP_A1(SCMP_CMP_MASKED_EQ, O_ACCMODE, ways[i]));
    }
}

/* Threads may be started, processes not. What clone3 is to do stands in memory that a filter cannot
 * see; the C library uses clone where there is no clone3. */
static void forbid_processes(scmp_filter_ctx filter)
{
    const scmp_datum_t thread = 0x00010000; /* CLONE_THREAD */
    seccomp_rule_add(filter, SCMP_ACT_ERRNO(EPERM), SCMP_SYS(clone), 1,
                     SCMP_A0(SCMP_CMP_MASKED_EQ, thread, 0));
    seccomp_rule_add(filter, SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(clone3), 0);
}

static void forbid_calls(void)
{
    scmp_filter_ctx filter = seccomp_init(SCMP_ACT_ALLOW);
    if (!filter) {
        return;
    }
    for (size_t i = 0; i < sizeof forbidden / sizeof *forbidden; i++) {
        forbid(filter, forbidden[i]);
    }
    forbid_opening(filter);
    forbid_processes(filter);
    seccomp_load(filter);
    seccomp_release(filter);
}

void cage_walls_raise(void)
{
    prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
    forbid_writing();
    forbid_calls();
}

/* Bytes of address space that this process has; 0 if the system does not say. */
static double space_taken(void)
{
    unsigned long pages = 0;
    FILE *stream = fopen("/proc/self/statm", "re");
    if (stream) {
        if (fscanf(stream, "%lu", &pages) != 1) {
            pages = 0;
        }
        fclose(stream);
    }
    return (double)pages * (double)sysconf(_SC_PAGESIZE);
}

void cage_walls_limit_memory(double megabytes)
{
#ifdef __SANITIZE_ADDRESS__
    (void)megabytes;
    (void)space_taken;
#else
#ifdef __GLIBC__
    malloc_trim(0); /* what the program has laid by for itself does not count */
#endif
    rlim_t bytes = (rlim_t)(space_taken() + megabytes * 1e6);
    const struct rlimit limit = {.rlim_cur = bytes, .rlim_max = bytes};
    const struct rlimit none = {0};
    setrlimit(RLIMIT_AS, &limit);
    setrlimit(RLIMIT_CORE, &none);
#endif
}

void cage_walls_limit_time(int seconds)
{
    struct rusage used;
    getrusage(RUSAGE_SELF, &used);
    /* The system counts whole seconds. */
    rlim_t until = (rlim_t)(used.ru_utime.tv_sec + used.ru_stime.tv_sec + seconds + 1);
    const struct rlimit limit = {.rlim_cur = until, .rlim_max = RLIM_INFINITY};
    setrlimit(RLIMIT_CPU, &limit);
}
