#include "fits_shape.h"

#include "base/fits_record.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

enum { MAX_AXES = 999, MAX_FIELDS = 999 };

/* The header being looked at. */
struct header {
    const unsigned char *card; /* its first */
    size_t cards;              /* up to END */
    size_t next;               /* to be read */
    int number;                /* in the file, from 1 */
    const char *name;          /* of the file */
};

static bool has_keyword(const unsigned char *card, const char *keyword)
{
    char padded[9];
    snprintf(padded, sizeof padded, "%-8.8s", keyword);
    return memcmp(card, padded, 8) == 0;
}

/* The whole number on a card, which must end where the value ends. */
static bool read_card(int64_t *value, const unsigned char *card)
{
    int i = 10;
    if (card[8] != '=' || card[9] != ' ') {
        return false;
    }
    while (i < FITS_CARD && card[i] == ' ') {
        i++;
    }
    bool negative = i < FITS_CARD && card[i] == '-';
    i += i < FITS_CARD && (card[i] == '-' || card[i] == '+');
    int64_t v = 0;
    int digits = 0;
    for (; i < FITS_CARD && card[i] >= '0' && card[i] <= '9' && digits < 18; i++, digits++) {
        v = v * 10 + (card[i] - '0');
    }
    *value = negative ? -v : v;
    return digits > 0 && (i == FITS_CARD || card[i] == ' ' || card[i] == '/');
}

/* The number on the card that is next in the order of the standard, within low..high. */
static int demand(int64_t *value, struct header *header, const char *keyword, int64_t low,
                  int64_t high, struct error *err)
{
    const unsigned char *card = header->card + header->next * FITS_CARD;
    if (header->next >= header->cards || !has_keyword(card, keyword)) {
        return error_set(err, ERROR_INPUT, "%s: header %d lacks %s in its place", header->name,
                         header->number, keyword);
    }
    header->next++;
    if (!read_card(value, card) || *value < low || *value > high) {
        return error_set(err, ERROR_INPUT,
                         "%s: header %d: expected %s to be a whole number from %lld to %lld",
                         header->name, header->number, keyword, (long long)low, (long long)high);
    }
    return 0;
}

/* Multiplies two sizes of at least 0; false when the product is out of reach. */
static bool multiply(int64_t *product, int64_t factor)
{
    if (factor != 0 && *product > INT64_MAX / factor) {
        return false;
    }
    *product *= factor;
    return true;
}

/* Bytes of data behind the header, without padding. Random groups, which no table follows in
 * practice, come out too small: the walk then stops at what is no header. */
static int data_size(int64_t *size, struct header *header, struct error *err)
{
    int64_t bits, axes, length, extra = 0, groups = 1;
    int code = demand(&bits, header, "BITPIX", -64, 64, err);
    if (!code) {
        code = demand(&axes, header, "NAXIS", 0, MAX_AXES, err);
    }
    if (code) {
        return code;
    }
    bool fits = true;
    *size = axes > 0;
    for (int64_t i = 1; i <= axes; i++) {
        char keyword[16];
        snprintf(keyword, sizeof keyword, "NAXIS%d", (int)i);
        code = demand(&length, header, keyword, 0, INT32_MAX, err);
        if (code) {
            return code;
        }
        fits = fits && multiply(size, length);
    }
    if (header->number > 1) {
        code = demand(&extra, header, "PCOUNT", 0, INT64_MAX / 16, err);
        if (!code) {
            code = demand(&groups, header, "GCOUNT", 1, INT32_MAX, err);
        }
    }
    fits = fits && *size < INT64_MAX / 2;
    *size += extra;
    if (!code &&
        !(fits && multiply(size, groups) && multiply(size, (bits < 0 ? -bits : bits) / 8))) {
        return error_set(err, ERROR_INPUT, "%s: header %d: its data would be too large",
                         header->name, header->number);
    }
    return code;
}

static int check_table(struct header *header, struct error *err)
{
    const unsigned char *kind = header->card;
    int64_t fields;
    if (memcmp(kind, "XTENSION= 'BINTABLE'", 20) == 0 ||
        memcmp(kind, "XTENSION= 'TABLE   '", 20) == 0) {
        return demand(&fields, header, "TFIELDS", 0, MAX_FIELDS, err);
    }
    return 0;
}

/* Counts the cards before END; false if there is no END. */
static bool measure_header(struct header *header, const unsigned char *start, size_t size)
{
    header->card = start;
    header->next = 1; /* the first said that this is a header */
    for (header->cards = 0; (header->cards + 1) * FITS_CARD <= size; header->cards++) {
        if (has_keyword(start + header->cards * FITS_CARD, "END")) {
            return true;
        }
    }
    return false;
}

static uint64_t padded(uint64_t size)
{
    return (size + FITS_RECORD - 1) / FITS_RECORD * FITS_RECORD;
}

int fits_shape_check(const unsigned char *bytes, size_t size, const char *name, struct error *err)
{
    struct header header = {.name = name};
    uint64_t at = 0;
    while (size - at >= FITS_RECORD && (at == 0 || memcmp(bytes + at, "XTENSION=", 9) == 0)) {
        header.number++;
        if (!measure_header(&header, bytes + at, size - at)) {
            return error_set(err, ERROR_INPUT, "%s: header %d has no END", name, header.number);
        }
        int64_t data = 0;
        int code = data_size(&data, &header, err);
        if (!code) {
            code = check_table(&header, err);
        }
        if (code) {
            return code;
        }
        at += padded((header.cards + 1) * FITS_CARD);
        if (at > size || (uint64_t)data > size - at) {
            return 0; /* cut short: CFITSIO will say so */
        }
        at += padded((uint64_t)data);
        if (at > size) {
            return 0; /* the padding is missing at the end, which some writers leave out */
        }
    }
    return 0;
}
