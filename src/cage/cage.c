#include "cage/cage.h"

#include "cage/cage_adopt.h"
#include "cage/cage_keeper.h"
#include "cage/cage_message.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

/* A worker and the way to it. Those that nobody uses hang together. */
struct room {
    pid_t worker;
    int socket;
    struct room *next;
};

struct cage {
    struct cage_limits limits;
    struct frame_reader reader;
    struct cage_keeper keeper;
    pthread_mutex_t lock; /* of the keeper and the rooms */
    struct room *empty;
};

static void be_patient(const struct cage *cage, int socket)
{
    const struct timeval most = {.tv_sec = cage->limits.silence_s};
    if (socket >= 0) {
        setsockopt(socket, SOL_SOCKET, SO_RCVTIMEO, &most, sizeof most);
        setsockopt(socket, SOL_SOCKET, SO_SNDTIMEO, &most, sizeof most);
    }
}

static struct room *enter(struct cage *cage, const char *name, struct error *err)
{
    int number = 0;
    pthread_mutex_lock(&cage->lock);
    struct room *room = cage->empty;
    if (room) {
        cage->empty = room->next;
    } else {
        room = calloc(1, sizeof *room);
        number = room ? cage_keeper_add(&cage->keeper, &room->worker, &room->socket) : ENOMEM;
        be_patient(cage, number ? -1 : room->socket);
    }
    pthread_mutex_unlock(&cage->lock);
    if (number) {
        error_set(err, ERROR_INPUT, "%s: no process could be started to read it: %s", name,
                  strerror(number));
        error_because(err, ERROR_INPUT, CAUSE_MEMORY);
        free(room);
        room = NULL;
    }
    return room;
}

static void leave(struct cage *cage, struct room *room)
{
    pthread_mutex_lock(&cage->lock);
    room->next = cage->empty;
    cage->empty = room;
    pthread_mutex_unlock(&cage->lock);
}

static int need_memory(const struct cage *cage, const char *name, struct error *err)
{
    error_set(err, ERROR_INPUT, "%s: needs more than %.0f MB of memory to be read", name,
              cage->limits.memory_mb);
    return error_because(err, ERROR_INPUT, CAUSE_MEMORY);
}

/* What a worker says is not believed beyond its words. */
static int repeat(struct error *said, struct error *err)
{
    said->text[sizeof said->text - 1] = '\0';
    said->cause = said->cause < ERROR_CAUSES ? said->cause : CAUSE_CONTENT;
    error_set(err, ERROR_INPUT, "%s", said->text);
    error_because(err, ERROR_INPUT, said->cause);
    return error_remedied(err, ERROR_INPUT,
                          said->remedy < ERROR_REMEDIES ? said->remedy : REMEDY_NONE);
}

/* The worker is dead; what it died of is the answer. */
static int mourn(struct cage *cage, struct room *room, const char *name, struct error *err)
{
    bool late = errno == EAGAIN || errno == EWOULDBLOCK;
    close(room->socket);
    pthread_mutex_lock(&cage->lock);
    int status = cage_keeper_bury(&cage->keeper, room->worker);
    pthread_mutex_unlock(&cage->lock);
    free(room);
    if (late) {
        error_set(err, ERROR_INPUT, "%s: no answer for %d s while it was read", name,
                  cage->limits.silence_s);
        return error_because(err, ERROR_INPUT, CAUSE_DEVICE);
    }
    int sign = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
    if (sign == SIGXCPU) {
        return error_set(err, ERROR_INPUT, "%s: needs more than %d s of processor time to be read",
                         name, cage->limits.seconds);
    }
    if (sign == SIGKILL) {
        error_set(err, ERROR_INPUT,
                  "%s: the system ended the reading of it, as it does when "
                  "memory is short",
                  name);
        return error_because(err, ERROR_INPUT, CAUSE_MEMORY);
    }
    return error_set(err, ERROR_INPUT,
                     "%s: reading it failed badly (%s %d): the file is damaged, "
                     "or made to do harm",
                     name, sign ? "signal" : "end", sign ? sign : WEXITSTATUS(status));
}

static bool send_wish(int socket, const struct picture_source *source,
                      const struct frame_options *options)
{
    struct cage_wish wish;
    memset(&wish, 0, sizeof wish);
    wish.options = *options;
    wish.options.reader = NULL;
    wish.name_size = strlen(source->name) + 1;
    wish.in_memory = source->bytes != NULL;
    wish.size = source->bytes ? source->size : 0;
    return cage_send(socket, &wish, sizeof wish) &&
           cage_send(socket, source->name, wish.name_size) &&
           (!source->bytes || cage_send(socket, source->bytes, source->size));
}

static int read_caged(void *context, struct frame *frame, const struct picture_source *source,
                      const struct frame_options *options, struct error *err)
{
    struct cage *cage = context;
    struct cage_answer answer;
    bool lives = true;
    memset(frame, 0, sizeof *frame);
    struct room *room = enter(cage, source->name, err);
    if (!room) {
        return ERROR_INPUT;
    }
    if (!send_wish(room->socket, source, options) ||
        !cage_receive(room->socket, &answer, sizeof answer)) {
        return mourn(cage, room, source->name, err);
    }
    int code = answer.code;
    if (!code) {
        const struct cage_way way = {.socket = room->socket, .worker = room->worker};
        code = cage_adopt(frame, &answer.frame, &way, &lives, err);
    } else if (code == ERROR_MEMORY) {
        code = need_memory(cage, source->name, err);
    } else {
        answer.err.text[sizeof answer.err.text - 1] = '\0';
        code = repeat(&answer.err, err);
    }
    if (!lives) {
        return mourn(cage, room, source->name, err);
    }
    leave(cage, room);
    return code;
}

static void end_cage(void *context)
{
    cage_close(context);
}

int cage_open(struct cage **cage, const struct cage_limits *limits, struct error *err)
{
    struct cage *made = calloc(1, sizeof *made);
    *cage = NULL;
    if (!made) {
        return error_memory(err);
    }
    made->limits = *limits;
    made->limits.memory_mb = limits->memory_mb > 0 ? limits->memory_mb : CAGE_MEMORY_MB;
    made->limits.seconds = limits->seconds > 0 ? limits->seconds : CAGE_SECONDS;
    made->limits.silence_s = limits->silence_s > 0 ? limits->silence_s : CAGE_SILENCE_S;
    made->limits.read = limits->read ? limits->read : frame_read_from;
    made->reader = (struct frame_reader){.read = read_caged, .close = end_cage, .context = made};
    int number = cage_keeper_start(&made->keeper, &made->limits);
    if (number) {
        free(made);
        return error_set(err, ERROR_INPUT, "no process could be started to read pictures in: %s",
                         strerror(number));
    }
    pthread_mutex_init(&made->lock, NULL);
    *cage = made;
    return 0;
}

void cage_close(struct cage *cage)
{
    if (!cage) {
        return;
    }
    while (cage->empty) {
        struct room *room = cage->empty;
        cage->empty = room->next;
        close(room->socket);
        free(room);
    }
    cage_keeper_end(&cage->keeper);
    pthread_mutex_destroy(&cage->lock);
    free(cage);
}

const struct frame_reader *cage_reader(const struct cage *cage)
{
    return &cage->reader;
}
