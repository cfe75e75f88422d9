/* tests/fuzz/fuzz_lines.h: any bytes as the lines of a night: each must be read, or refused, and
 * come back the same when it is written. */
#ifndef ALIDADE_TESTS_FUZZ_LINES_H
#define ALIDADE_TESTS_FUZZ_LINES_H

#include "fuzz_words.h"
#include "night/night_list.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { FUZZ_MOST_LINES = 16384 };

static void fuzz_add_keys(struct fuzz_words *words, const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->kind || row->key; row++) {
        fuzz_words_add(words, row->key);
        if (row->of) {
            fuzz_add_keys(words, row->of);
        }
        for (int i = 0; row->word && i < row->count; i++) {
            fuzz_words_add(words, row->word(i));
        }
    }
}

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static struct fuzz_words words;
    if (words.count == 0) {
        fuzz_add_keys(&words, &night_frame_schema);
    }
    return fuzz_change_words(data, size, most, seed, &words);
}

/* What is written is read as the same. */
static void fuzz_write_twice(const struct night_frame *frame)
{
    struct night_frame again = {0};
    struct json first = {0}, second = {0};
    struct error err = {0};
    if (night_frame_write(&first, frame, &err) == 0) {
        if (night_frame_read(&again, first.text, first.length, &err) ||
            night_frame_write(&second, &again, &err) || first.length != second.length ||
            memcmp(first.text, second.text, first.length) != 0) {
            abort();
        }
    }
    json_free(&first);
    json_free(&second);
    night_frame_free(&again);
}

static void fuzz_read_lines(struct night_list *list, const char *text, size_t size)
{
    while (size > 0) {
        const char *newline = memchr(text, '\n', size);
        size_t length = newline ? (size_t)(newline - text) + 1 : size;
        struct night_frame frame = {0};
        struct error err = {0};
        int code = night_frame_read(&frame, text, length, &err);
        if (code == 0) {
            if (length % 4 == 0) { /* it takes most of the time */
                fuzz_write_twice(&frame);
            }
            night_list_add(list, &frame, &err);
        } else if (code != ERROR_NO && (code != err.code || err.text[0] == '\0')) {
            abort();
        }
        text += length;
        size -= length;
    }
}

/* From bytes of their own, so that a sanitizer sees what reads beyond them. */
static void fuzz_read_list(struct night_list *list, const uint8_t *data, size_t size)
{
    char *text = size <= FUZZ_MOST_LINES ? malloc(size + 1) : NULL;
    if (text) {
        memcpy(text, data, size);
        fuzz_read_lines(list, text, size);
    }
    free(text);
}

#endif
