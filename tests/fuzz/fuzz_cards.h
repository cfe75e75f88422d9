/* tests/fuzz/fuzz_cards.h: changes to cards of FITS headers (FITS standard 4.0, section 4), which
 * keep their 80 bytes. */
#ifndef ALIDADE_TESTS_FUZZ_CARDS_H
#define ALIDADE_TESTS_FUZZ_CARDS_H

#include "fuzz_change.h"

#include <stdio.h>

enum { FUZZ_CARD = 80, FUZZ_RECORD = 2880, FUZZ_VALUE = 10 };

/* The header that begins at or before a place, by its records: *end is behind its END card, or at
 * the end of the input. */
static inline size_t fuzz_find_header(struct fuzz_input *in, size_t *end)
{
    size_t records = in->size / FUZZ_RECORD, record = fuzz_below(in, records);
    while (record > 0 && memcmp(in->data + record * FUZZ_RECORD, "XTENSION", 8) != 0) {
        record--;
    }
    *end = record * FUZZ_RECORD;
    while (*end + FUZZ_CARD <= in->size && memcmp(in->data + *end, "END     ", 8) != 0) {
        *end += FUZZ_CARD;
    }
    return record * FUZZ_RECORD;
}

static inline void fuzz_write_card(uint8_t *card, const char *key, const char *value)
{
    char text[FUZZ_CARD + 1];
    snprintf(text, sizeof text, "%-8.8s= %20s%50s", key, value, "");
    memcpy(card, text, FUZZ_CARD);
}

static inline size_t fuzz_change_card(uint8_t *data, size_t size, size_t most, unsigned int seed,
                                      const char *const *keys, size_t key_count)
{
    static const char *const values[] = {
        "T", "F", "0", "1", "-1", "2", "8", "16", "32", "64", "-32", "-64", "999", "1000", "32768",
        "65536", "2147483647", "4294967296", "9223372036854775807", "1.5E+308", "1E-320", "NaN",
        "''", "'RICE_1  '", "'GZIP_2  '", "'HCOMPRESS_1'", "'PLIO_1  '", "'1J      '", "'1PB(9)  '",
        "'E       '", "'999A    '", "'RA---TAN'", "'DEC--TAN-SIP'", "'2026-02-25T18:00:00'",
        "'12 34 56.7'", "'&       '", "90", "-90.5", "361", "(1,2)"};
    struct fuzz_input in = {data, size, most, {seed}};
    size_t end, start = fuzz_find_header(&in, &end), cards = (end - start) / FUZZ_CARD;
    if (size < FUZZ_RECORD || cards < 2 || fuzz_below(&in, 4) == 0) {
        return LLVMFuzzerMutate(data, size, most);
    }
    uint8_t *card = data + start + fuzz_below(&in, cards) * FUZZ_CARD;
    uint8_t *other = data + start + fuzz_below(&in, cards) * FUZZ_CARD;
    const char *value = values[fuzz_below(&in, sizeof values / sizeof *values)];
    char key[9];
    switch (fuzz_below(&in, 6)) {
    case 0:
        fuzz_write_card(card, keys[fuzz_below(&in, key_count)], value);
        break;
    case 1:
    case 2:
        snprintf(key, sizeof key, "%.8s", (const char *)card);
        fuzz_write_card(card, key, value);
        break;
    case 3:
        memmove(card, other, FUZZ_CARD);
        break;
    case 4: /* the other one's value */
        memmove(card + FUZZ_VALUE, other + FUZZ_VALUE, FUZZ_CARD - FUZZ_VALUE);
        break;
    default:
        memset(card, ' ', FUZZ_CARD);
    }
    return size;
}

#endif
