#define _XOPEN_SOURCE 700 /* fstatat */

#include "base/leftovers.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

static const double least_age_s = 60;

static int folder_length(const char *target)
{
    const char *slash = strrchr(target, '/');
    return slash ? (int)(slash + 1 - target) : 0;
}

int leftovers_name(char *out, size_t size, const char *target, long pid, int number)
{
    return snprintf(out, size, "%.*s.alidade-%ld-%d.tmp", folder_length(target), target, pid,
                    number);
}

static struct flock whole_file(void)
{
    struct flock all = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    return all;
}

void leftovers_hold(int descriptor)
{
    struct flock all = whole_file();
    fcntl(descriptor, F_SETLK, &all); /* some network drives know no locks */
}

/* The process in a name that is exactly one of ours; 0 if it is none. */
static long process_of(const char *name)
{
    long pid = 0;
    int number = 0;
    char again[64];
    if (sscanf(name, ".alidade-%9ld-%9d.tmp", &pid, &number) != 2 || pid <= 1) {
        return 0;
    }
    leftovers_name(again, sizeof again, "", pid, number);
    return strcmp(again, name) == 0 ? pid : 0;
}

static bool is_gone(long pid)
{
    return kill((pid_t)pid, 0) != 0 && errno == ESRCH;
}

/* Whether a lock on it can be had: a writer on another machine, whose processes have numbers of
 * their own, holds it. */
static bool is_free(int folder, const char *name)
{
    int descriptor = openat(folder, name, O_WRONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
    if (descriptor < 0) {
        return false;
    }
    struct flock all = whole_file();
    bool free = fcntl(descriptor, F_SETLK, &all) == 0;
    close(descriptor);
    return free;
}

static bool is_leftover(int folder, const char *name)
{
    struct stat info;
    long pid = process_of(name);
    return pid && is_gone(pid) && fstatat(folder, name, &info, AT_SYMLINK_NOFOLLOW) == 0 &&
           S_ISREG(info.st_mode) && info.st_uid == geteuid() &&
           difftime(time(NULL), info.st_mtime) > least_age_s && is_free(folder, name);
}

void leftovers_sweep(const char *target)
{
    char folder[4096];
    int length = folder_length(target);
    if ((size_t)length >= sizeof folder) {
        return;
    }
    snprintf(folder, sizeof folder, "%.*s", length, target);
    DIR *listed = opendir(length ? folder : ".");
    if (!listed) {
        return;
    }
    for (struct dirent *entry; (entry = readdir(listed)) != NULL;) {
        if (is_leftover(dirfd(listed), entry->d_name)) {
            unlinkat(dirfd(listed), entry->d_name, 0);
        }
    }
    closedir(listed);
}
