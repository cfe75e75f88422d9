#include "objects/star_words.h"

#include <stdio.h>
#include <string.h>

/* Greek letters are two bytes of UTF-8 from 0xCE 0xB1 to 0xCF 0x89. */
static bool is_greek(const char *text)
{
    unsigned char first = (unsigned char)text[0];
    return first == 0xce || first == 0xcf;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_capital(char c)
{
    return c >= 'A' && c <= 'Z';
}

/* "α1 Cen" and "45 Ori"; but "V1046 Ori", "RR Lyr", "GJ 1", "HIP 5" are of other kinds. */
static bool is_letter_name(const char *name)
{
    return is_greek(name);
}

static bool is_flamsteed(const char *name)
{
    size_t digits = strspn(name, "0123456789");
    return digits > 0 && name[digits] == ' ';
}

static bool is_own_name(const char *name)
{
    bool number = strpbrk(name, "0123456789") != NULL;
    bool variable =
        is_capital(name[0]) && (name[1] == ' ' || (is_capital(name[1]) && name[2] == ' '));
    bool latin_letter = name[0] && name[1] == ' ';
    return !is_greek(name) && !number && !variable && !latin_letter;
}

/* Copies the name of a kind out of the star's names; false if it has none. */
static bool find_name(char *out, size_t size, const struct object *star,
                      bool (*is_kind)(const char *))
{
    const char *lists[2] = {star->id, star->other_names};
    for (int i = 0; i < 2; i++) {
        for (const char *next = lists[i]; *next;) {
            size_t length = strcspn(next, ";");
            snprintf(out, size, "%.*s", (int)length, next);
            if (is_kind(out)) {
                return true;
            }
            next += length + (next[length] == ';');
        }
    }
    return false;
}

/* Numbers that tell stars of one letter apart stand high. */
static void raise_numbers(char *out, size_t size, const char *name)
{
    static const char *const high[] = {"⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"};
    size_t used = 0;
    for (const char *c = name; *c; c++) {
        const char one[2] = {*c, '\0'}, *piece = is_digit(*c) ? high[*c - '0'] : one;
        if (used + strlen(piece) >= size) {
            break;
        }
        memcpy(out + used, piece, strlen(piece));
        used += strlen(piece);
    }
    out[used] = '\0';
}

bool star_write_name(char *out, size_t size, const struct object *star, double faintest_named)
{
    char name[80];
    if (star->magnitude <= faintest_named && find_name(out, size, star, is_own_name)) {
        return true;
    }
    if (find_name(name, sizeof name, star, is_letter_name)) {
        raise_numbers(out, size, name);
        return true;
    }
    return find_name(out, size, star, is_flamsteed) || find_name(out, size, star, is_own_name);
}

bool star_write_letter(char *out, size_t size, const struct object *star)
{
    char name[80];
    if (!find_name(name, sizeof name, star, is_letter_name)) {
        return false;
    }
    name[strcspn(name, " ")] = '\0';
    raise_numbers(out, size, name);
    return true;
}
