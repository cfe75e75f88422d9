/* tests/fuzz/fuzz_words.h: changes to a text: words of it become others, lines come twice, go, or
 * change places. */
#ifndef ALIDADE_TESTS_FUZZ_WORDS_H
#define ALIDADE_TESTS_FUZZ_WORDS_H

#include "fuzz_change.h"

enum { FUZZ_WORDS_MOST = 400 };

/* Words that mean something to the reader; borrowed. */
struct fuzz_words {
    const char *word[FUZZ_WORDS_MOST];
    size_t count;
};

static inline void fuzz_words_add(struct fuzz_words *words, const char *word)
{
    if (word && words->count < FUZZ_WORDS_MOST) {
        words->word[words->count++] = word;
    }
}

static inline bool fuzz_parts_words(uint8_t c)
{
    return c == 0 || strchr(" \t\r\n,;:|=[]{}\"<>", c) != NULL;
}

/* The word around or behind a place, empty where there is none. */
static inline void fuzz_find_word(size_t *at, size_t *end, struct fuzz_input *in)
{
    *at = fuzz_below(in, in->size);
    while (*at < in->size && fuzz_parts_words(in->data[*at])) {
        ++*at;
    }
    while (*at > 0 && *at < in->size && !fuzz_parts_words(in->data[*at - 1])) {
        --*at;
    }
    *end = *at;
    while (*end < in->size && !fuzz_parts_words(in->data[*end])) {
        ++*end;
    }
}

static inline void fuzz_find_line(size_t *at, size_t *end, struct fuzz_input *in)
{
    *at = fuzz_below(in, in->size);
    while (*at > 0 && in->data[*at - 1] != '\n') {
        --*at;
    }
    const uint8_t *newline = memchr(in->data + *at, '\n', in->size - *at);
    *end = newline ? (size_t)(newline - in->data) + 1 : in->size;
}

static inline const char *fuzz_any_word(struct fuzz_input *in, const struct fuzz_words *words)
{
    static const char *const odd[] = {
        "0", "-1", "1", "-0.0", "1e308", "-1e308", "1e-320", "nan", "inf", "0.5", "89.9999999",
        "90", "360", "2147483647", "-2147483648", "4294967296", "9223372036854775807", "1e9",
        "65535", "null", "true", "false", "{}", "[]", "", "\xff\xfe", "\xe2\x80\xae", "\x1b[2J",
        "2026-02-25T18:00:00Z", "1800-01-01", "2200-12-31T23:59:60", "%n%s", "=cmd|'/c'!A1"};
    size_t known = words->count, count = sizeof odd / sizeof *odd;
    size_t which = fuzz_below(in, known > 0 ? 2 : 1) ? fuzz_below(in, known) : known;
    return which < known ? words->word[which] : odd[fuzz_below(in, count)];
}

static inline void fuzz_copy_piece(struct fuzz_input *in, size_t from, size_t end, size_t to,
                                   size_t to_end)
{
    uint8_t piece[2048];
    size_t length = end - from < sizeof piece ? end - from : sizeof piece;
    memcpy(piece, in->data + from, length);
    fuzz_splice(in, to, to_end, piece, length);
}

static inline size_t fuzz_change_words(uint8_t *data, size_t size, size_t most, unsigned int seed,
                                       const struct fuzz_words *words)
{
    struct fuzz_input in = {data, size, most, {seed}};
    size_t at, end, other, other_end;
    const char *word = fuzz_any_word(&in, words);
    fuzz_find_word(&at, &end, &in);
    switch (fuzz_below(&in, 10)) {
    case 0:
    case 1:
    case 2:
        fuzz_splice(&in, at, end, word, strlen(word));
        break;
    case 3:
        fuzz_splice(&in, at, at, word, strlen(word));
        break;
    case 4:
        fuzz_find_word(&other, &other_end, &in);
        fuzz_copy_piece(&in, other, other_end, at, end);
        break;
    case 5:
        fuzz_find_line(&at, &end, &in);
        fuzz_find_line(&other, &other_end, &in);
        fuzz_copy_piece(&in, other, other_end, at, fuzz_below(&in, 2) ? at : end);
        break;
    case 6:
        fuzz_find_line(&at, &end, &in);
        fuzz_splice(&in, at, end, "", 0);
        break;
    default:
        return LLVMFuzzerMutate(data, size, most);
    }
    return in.size;
}

#endif
