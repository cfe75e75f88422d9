/* What the C library of WebAssembly declares and does not have. */
#define _GNU_SOURCE
#include <errno.h>
#include <sched.h>

int sched_getaffinity(pid_t process, size_t size, cpu_set_t *set)
{
    (void)process;
    (void)size;
    (void)set;
    errno = ENOSYS;
    return -1;
}

int __sched_cpucount(size_t size, const cpu_set_t *set)
{
    (void)size;
    (void)set;
    return 0;
}
