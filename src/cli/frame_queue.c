#include "cli/frame_queue.h"

#include "base/parallel.h"
#include "base/utf8.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdlib.h>

/* What is to be said of a frame that others, before it, still keep waiting. */
struct spoken {
    bool ready;
    int code;
    char *text; /* NULL if memory was short */
    size_t length;
    struct error err;
};

struct queue {
    FILE *out;
    char **name;
    const char *who;
    frame_answer *answer;
    const void *context;
    struct spoken *spoken;
    int frames;

    pthread_mutex_t lock; /* guards what follows, and ready */
    int next;             /* first that is not out yet */
    int worst;
    bool stopped;
};

static void speak(struct queue *queue, struct spoken *spoken)
{
    if (spoken->text) {
        fwrite(spoken->text, 1, spoken->length, queue->out);
    }
    bool failed = fflush(queue->out) != 0;
    if (spoken->err.text[0]) {
        fprintf(stderr, "%s: ", queue->who);
        utf8_write_shown(stderr, spoken->err.text);
        fputc('\n', stderr);
    }
    free(spoken->text);
    spoken->text = NULL;
    queue->worst = spoken->code > queue->worst ? spoken->code : queue->worst;
    queue->stopped = queue->stopped || failed;
}

static void hand_in(struct queue *queue, int item)
{
    pthread_mutex_lock(&queue->lock);
    queue->spoken[item].ready = true;
    while (queue->next < queue->frames && queue->spoken[queue->next].ready) {
        speak(queue, &queue->spoken[queue->next++]);
    }
    pthread_mutex_unlock(&queue->lock);
}

static bool is_stopped(struct queue *queue)
{
    pthread_mutex_lock(&queue->lock);
    bool stopped = queue->stopped;
    pthread_mutex_unlock(&queue->lock);
    return stopped;
}

static void answer_item(int item, void *context)
{
    struct queue *queue = context;
    struct spoken *spoken = &queue->spoken[item];
    if (is_stopped(queue)) {
        return;
    }
    FILE *out = open_memstream(&spoken->text, &spoken->length);
    if (out) {
        spoken->code = queue->answer(out, queue->name[item], queue->context, &spoken->err);
        if (fclose(out) != 0) {
            spoken->code = error_memory(&spoken->err);
        }
    } else {
        spoken->code = error_memory(&spoken->err);
    }
    hand_in(queue, item);
}

int frames_answer(FILE *out, int frames, char **name, int threads, const char *who,
                  frame_answer *answer, const void *context, struct error *err)
{
    struct queue queue = {.out = out,
                          .name = name,
                          .who = who,
                          .answer = answer,
                          .context = context,
                          .frames = frames};
    queue.spoken = calloc((size_t)frames, sizeof *queue.spoken);
    if (!queue.spoken) {
        return error_memory(err);
    }
    pthread_mutex_init(&queue.lock, NULL);
    parallel_each(frames, threads > 0 ? threads : parallel_processors(), answer_item, &queue);
    pthread_mutex_destroy(&queue.lock);
    for (int i = 0; i < frames; i++) {
        free(queue.spoken[i].text);
    }
    free(queue.spoken);
    return queue.worst;
}
