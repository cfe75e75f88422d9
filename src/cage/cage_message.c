#define _GNU_SOURCE /* MSG_CMSG_CLOEXEC */

#include "cage/cage_message.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* The same under a number above the standard streams'; -1 stays. */
static int above_streams(int descriptor)
{
    if (descriptor < 0 || descriptor > STDERR_FILENO) {
        return descriptor;
    }
    int above = fcntl(descriptor, F_DUPFD_CLOEXEC, STDERR_FILENO + 1);
    int number = errno;
    close(descriptor);
    errno = number;
    return above;
}

bool cage_pair(int pair[2], int kind)
{
    if (socketpair(AF_UNIX, kind | SOCK_CLOEXEC, 0, pair) != 0) {
        return false;
    }
    pair[0] = above_streams(pair[0]);
    pair[1] = above_streams(pair[1]);
    for (int i = 0; i < 2; i++) {
        if (pair[i] < 0) {
            if (pair[1 - i] >= 0) {
                close(pair[1 - i]);
            }
            return false;
        }
    }
    return true;
}

bool cage_send(int socket, const void *bytes, size_t size)
{
    const char *at = bytes;
    while (size > 0) {
        ssize_t sent = send(socket, at, size, MSG_NOSIGNAL);
        if (sent < 0 && errno == EINTR) {
            continue;
        }
        if (sent <= 0) {
            return false;
        }
        at += sent;
        size -= (size_t)sent;
    }
    return true;
}

bool cage_receive(int socket, void *bytes, size_t size)
{
    char *at = bytes;
    while (size > 0) {
        ssize_t received = recv(socket, at, size, MSG_WAITALL);
        if (received < 0 && errno == EINTR) {
            continue;
        }
        if (received == 0) {
            errno = EPIPE; /* as for who sends */
        }
        if (received <= 0) {
            return false;
        }
        at += received;
        size -= (size_t)received;
    }
    return true;
}

/* Room for one descriptor, aligned as its header asks. */
union passage {
    struct cmsghdr head;
    char room[CMSG_SPACE(sizeof(int))];
};

bool cage_pass(int socket, long number, int descriptor)
{
    union passage passage;
    struct iovec part = {.iov_base = &number, .iov_len = sizeof number};
    struct msghdr message = {.msg_iov = &part, .msg_iovlen = 1};
    if (descriptor >= 0) {
        memset(&passage, 0, sizeof passage);
        message.msg_control = passage.room;
        message.msg_controllen = sizeof passage.room;
        struct cmsghdr *head = CMSG_FIRSTHDR(&message);
        head->cmsg_level = SOL_SOCKET;
        head->cmsg_type = SCM_RIGHTS;
        head->cmsg_len = CMSG_LEN(sizeof descriptor);
        memcpy(CMSG_DATA(head), &descriptor, sizeof descriptor);
    }
    ssize_t sent;
    do {
        sent = sendmsg(socket, &message, MSG_NOSIGNAL);
    } while (sent < 0 && errno == EINTR);
    return sent == (ssize_t)sizeof number;
}

bool cage_take(int socket, long *number, int *descriptor)
{
    union passage passage;
    struct iovec part = {.iov_base = number, .iov_len = sizeof *number};
    struct msghdr message = {.msg_iov = &part,
                             .msg_iovlen = 1,
                             .msg_control = passage.room,
                             .msg_controllen = sizeof passage.room};
    ssize_t received;
    do {
        received = recvmsg(socket, &message, MSG_CMSG_CLOEXEC);
    } while (received < 0 && errno == EINTR);
    *descriptor = -1;
    const struct cmsghdr *head = received > 0 ? CMSG_FIRSTHDR(&message) : NULL;
    if (head && head->cmsg_level == SOL_SOCKET && head->cmsg_type == SCM_RIGHTS) {
        memcpy(descriptor, CMSG_DATA(head), sizeof *descriptor);
        *descriptor = above_streams(*descriptor);
    }
    return received == (ssize_t)sizeof *number;
}
