#include "image/guards/plio_check.h"

/* What the upper four bits of a word ask for; the lower twelve are its number. */
enum instruction { ZEROS, SET_HIGH, RAISE, LOWER, FILL, ZEROS_AND_ONE, RAISE_ONE, LOWER_ONE };

enum { SHORT_HEAD = 3, LONG_HEAD = 7 }; /* words before the instructions */

/* Words of the whole list and where its instructions begin: the third word has the length, or, in
 * the newer form, is negative, and the second has the length of the head, the fourth and fifth the
 * list's. False if they cannot be. */
static bool read_head(size_t *first, size_t *end, const int16_t *words, size_t count)
{
    if (count < SHORT_HEAD) {
        return false;
    }
    if (words[2] > 0) {
        *first = SHORT_HEAD;
        *end = (size_t)words[2];
        return *end <= count;
    }
    if (count < LONG_HEAD || words[1] < LONG_HEAD || words[3] < 0 || words[4] < 0) {
        return false;
    }
    *first = (size_t)words[1];
    *end = (size_t)words[4] << 15 | (size_t)words[3];
    return *end <= count && *first <= *end;
}

/* Pixels that a word writes. */
static long pixels_of(enum instruction instruction, long number)
{
    switch (instruction) {
    case ZEROS:
    case FILL:
    case ZEROS_AND_ONE:
        return number;
    case RAISE_ONE:
    case LOWER_ONE:
        return 1;
    default:
        return 0;
    }
}

bool plio_check(const int16_t *words, size_t count, long pixels)
{
    size_t at, end;
    long done = 0;
    if (!read_head(&at, &end, words, count)) {
        return false;
    }
    for (; at < end && done <= pixels; at++) {
        unsigned instruction = (uint16_t)words[at] >> 12;
        long number = words[at] & 0xfff;
        if (instruction > LOWER_ONE) {
            return false;
        }
        done += pixels_of((enum instruction)instruction, number);
        if (instruction == SET_HIGH && ++at == end) { /* the value's upper part is the next word */
            return false;
        }
    }
    return done <= pixels;
}
