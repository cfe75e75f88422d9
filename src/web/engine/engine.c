#include "web/engine/engine.h"

#include "base/error.h"
#include "cli/cli_commands.h"
#include "index_commands.h"

#include <emscripten.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_WORDS = 256 };

static int follow_nothing(const void *settings, int operands, char **operand, FILE *out,
                          struct error *err)
{
    (void)settings;
    (void)operands;
    (void)operand;
    (void)out;
    return error_set(err, ERROR_USAGE, "a page has no folder that it could follow");
}

const struct command command_watch = {
    .name = "watch",
    .summary = "follow a folder of frames; not in a page",
    .most = COMMAND_ANY_NUMBER,
    .run = follow_nothing,
};

struct capture {
    FILE *stream;
    char *text;
    size_t size;
};
static struct capture answer, complaints;

static bool open_capture(struct capture *capture)
{
    free(capture->text);
    *capture = (struct capture){0};
    capture->stream = open_memstream(&capture->text, &capture->size);
    return capture->stream != NULL;
}

static int split(char *word[MOST_WORDS + 1], char *words)
{
    int count = 0;
    for (char *at = words; at && count < MOST_WORDS;) {
        word[count++] = at;
        at = strchr(at, '\n');
        if (at) {
            *at++ = '\0';
        }
    }
    word[count] = NULL;
    return count;
}

EMSCRIPTEN_KEEPALIVE int engine_run(const char *words)
{
    char *word[MOST_WORDS + 1];
    char *copy = strdup(words);
    int code = ERROR_MEMORY;
    if (copy && open_capture(&answer) && open_capture(&complaints)) {
        int count = split(word, copy);
        const struct program *program =
            strcmp(word[0], "alidade-index") == 0 ? &index_program : &alidade_program;
        code = command_main(program, count, word, answer.stream, complaints.stream);
        fclose(answer.stream);
        fclose(complaints.stream);
    }
    free(copy);
    return code;
}

EMSCRIPTEN_KEEPALIVE const char *engine_answer(void)
{
    return answer.text ? answer.text : "";
}

EMSCRIPTEN_KEEPALIVE const char *engine_complaints(void)
{
    return complaints.text ? complaints.text : "";
}
