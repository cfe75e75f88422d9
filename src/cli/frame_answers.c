#include "cli/frame_answers.h"

#include "base/utf8.h"
#include "cli/complaint.h"
#include "cli/terminal.h"
#include "jobs/frame_queue.h"

#include <stdlib.h>

/* What is to be said of a frame that others, before it, still keep waiting. */
struct spoken {
    int code;
    char *text; /* NULL if memory was short */
    size_t length;
    struct error err;
};

struct answers {
    FILE *out;
    char **name;
    const char *who;
    frame_answer *answer;
    const void *context;
    struct spoken *spoken;
    int worst;
};

static void find_answer(int item, void *context)
{
    const struct answers *answers = context;
    struct spoken *spoken = &answers->spoken[item];
    FILE *out = open_memstream(&spoken->text, &spoken->length);
    if (out) {
        spoken->code = answers->answer(out, answers->name[item], answers->context, &spoken->err);
        if (fclose(out) != 0) {
            spoken->code = error_memory(&spoken->err);
        }
    } else {
        spoken->code = error_memory(&spoken->err);
    }
}

/* Nobody reads on when what is written cannot get out. */
static bool speak(int item, void *context)
{
    struct answers *answers = context;
    struct spoken *spoken = &answers->spoken[item];
    if (spoken->text) {
        terminal_write(answers->out, spoken->text, spoken->length);
    }
    bool failed = fflush(answers->out) != 0;
    if (spoken->err.text[0]) {
        complaint_write(stderr, answers->who, &spoken->err);
    }
    free(spoken->text);
    spoken->text = NULL;
    answers->worst = spoken->code > answers->worst ? spoken->code : answers->worst;
    return !failed;
}

int frames_answer(FILE *out, int frames, char **name, int threads, const char *who,
                  frame_answer *answer, const void *context, struct error *err)
{
    struct answers answers = {
        .out = out, .name = name, .who = who, .answer = answer, .context = context};
    const struct frame_queue queue = {frames, threads, find_answer, speak, &answers};
    answers.spoken = calloc((size_t)frames, sizeof *answers.spoken);
    if (!answers.spoken) {
        return error_memory(err);
    }
    int code = frame_queue_run(&queue, NULL, err);
    for (int i = 0; i < frames; i++) {
        free(answers.spoken[i].text);
    }
    free(answers.spoken);
    return code ? code : answers.worst;
}
