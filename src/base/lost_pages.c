/* A jump out of the handler would leave locks and memory behind, on whichever thread it was; a page
 * put in place of the lost one lets everything run to its end. Readers of an index check every
 * number they take from it, and its user asks at the end whether it was the same all the time. */
#define _DEFAULT_SOURCE /* MAP_ANONYMOUS */

#include "base/lost_pages.h"

#include <errno.h>
#include <signal.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/mman.h>
#include <unistd.h>

/* mmap is no function that POSIX allows here, but nothing else than a call of the system. */
static void put_page(int number, siginfo_t *info, void *context)
{
    (void)context;
    int before = errno;
    size_t size = (size_t)sysconf(_SC_PAGESIZE);
    void *page = (char *)info->si_addr - (uintptr_t)info->si_addr % size;
    if (info->si_code != BUS_ADRERR ||
        mmap(page, size, PROT_READ, MAP_PRIVATE | MAP_ANONYMOUS | MAP_FIXED, -1, 0) == MAP_FAILED) {
        signal(number, SIG_DFL); /* the touch is done again, and ends the program */
    }
    errno = before;
}

void lost_pages_read_as_zeros(void)
{
    struct sigaction action = {.sa_sigaction = put_page, .sa_flags = SA_SIGINFO};
    sigemptyset(&action.sa_mask);
    sigaction(SIGBUS, &action, NULL);
}
