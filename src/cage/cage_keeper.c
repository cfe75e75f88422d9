#define _GNU_SOURCE /* syscall */

#include "cage/cage_keeper.h"

#include "cage/cage_message.h"
#include "cage/cage_worker.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

/* Asked of the keeper: a worker, or, as the number of its process, the end of one. */
enum { WANT_WORKER = 0 };

/* Dies with the process that split it off, and of nothing that is typed at a terminal: the program
 * may want to end in order. */
static void live_with(pid_t parent)
{
    signal(SIGINT, SIG_IGN);
    signal(SIGQUIT, SIG_IGN);
    signal(SIGHUP, SIG_IGN);
    signal(SIGTERM, SIG_DFL);
    prctl(PR_SET_PDEATHSIG, SIGKILL, 0, 0, 0);
    if (getppid() != parent) {
        _exit(0);
    }
}

static void close_numbers(unsigned first, unsigned last)
{
    if (first <= last) {
        (void)syscall(SYS_close_range, first, last, 0);
    }
}

/* Nothing of the program's is kept open: not its locks, not the pipe that somebody waits at. */
static void let_go(int socket)
{
    int nothing = open("/dev/null", O_RDWR);
    dup2(nothing, STDIN_FILENO);
    dup2(nothing, STDOUT_FILENO);
#ifndef __SANITIZE_ADDRESS__
    dup2(nothing, STDERR_FILENO);
#endif
    close_numbers(STDERR_FILENO + 1, (unsigned)socket - 1);
    close_numbers((unsigned)socket + 1, ~0U);
}

/* A worker with the program's end of the socket to it; or what errno says, with a minus. */
struct worker {
    long process;
    int socket;
};

static struct worker start_worker(int control, const struct cage_limits *limits)
{
    int pair[2];
    pid_t keeper = getpid();
    if (!cage_pair(pair, SOCK_STREAM)) {
        return (struct worker){.process = -errno, .socket = -1};
    }
    pid_t process = fork();
    if (process == 0) {
        live_with(keeper);
        close(control);
        close(pair[0]);
        cage_worker_run(pair[1], limits);
        _exit(0);
    }
    struct worker worker = {.process = process < 0 ? -errno : process, .socket = pair[0]};
    close(pair[1]);
    if (process < 0) {
        close(worker.socket);
        worker.socket = -1;
    }
    return worker;
}

/* The first is there before it is asked for: it raises its walls while the program opens its
 * index. */
static void hand_over(int control, struct worker *ready, const struct cage_limits *limits)
{
    const struct worker none = {.process = 0, .socket = -1};
    struct worker worker = ready->process > 0 ? *ready : start_worker(control, limits);
    *ready = none;
    cage_pass(control, worker.process, worker.socket);
    if (worker.socket >= 0) {
        close(worker.socket);
    }
}

static int bury(pid_t worker)
{
    int status = 0;
    kill(worker, SIGKILL); /* one that has ended keeps the status that it ended with */
    while (waitpid(worker, &status, 0) < 0 && errno == EINTR) {
    }
    return status;
}

static void keep(int control, const struct cage_limits *limits)
{
    long wanted;
    int none;
    struct worker ready = start_worker(control, limits);
    while (cage_take(control, &wanted, &none)) {
        if (wanted == WANT_WORKER) {
            hand_over(control, &ready, limits);
        } else {
            cage_pass(control, bury((pid_t)wanted), -1);
        }
    }
}

int cage_keeper_start(struct cage_keeper *keeper, const struct cage_limits *limits)
{
    int pair[2];
    pid_t program = getpid();
    keeper->socket = -1;
    if (!cage_pair(pair, SOCK_SEQPACKET)) {
        return errno;
    }
    keeper->process = fork();
    if (keeper->process == 0) {
        live_with(program);
        let_go(pair[1]);
        keep(pair[1], limits);
        _exit(0);
    }
    int number = keeper->process < 0 ? errno : 0;
    close(pair[1]);
    if (number) {
        close(pair[0]);
        return number;
    }
    keeper->socket = pair[0];
    return 0;
}

void cage_keeper_end(struct cage_keeper *keeper)
{
    if (keeper->socket < 0) {
        return;
    }
    close(keeper->socket);
    keeper->socket = -1;
    while (waitpid(keeper->process, NULL, 0) < 0 && errno == EINTR) {
    }
}

int cage_keeper_add(struct cage_keeper *keeper, pid_t *worker, int *socket)
{
    long answer = -EPIPE;
    *socket = -1;
    if (!cage_pass(keeper->socket, WANT_WORKER, -1) ||
        !cage_take(keeper->socket, &answer, socket)) {
        return EPIPE;
    }
    *worker = (pid_t)answer;
    return answer > 0 && *socket >= 0 ? 0 : answer < 0 ? (int)-answer : EMFILE;
}

int cage_keeper_bury(struct cage_keeper *keeper, pid_t worker)
{
    long status = 0;
    int none;
    if (!cage_pass(keeper->socket, worker, -1) || !cage_take(keeper->socket, &status, &none)) {
        return 0;
    }
    return (int)status;
}
