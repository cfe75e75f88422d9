#include "image/frame_name.h"

#include "base/path.h"
#include "image/format.h"

#include <ctype.h>
#include <stddef.h>
#include <string.h>
#include <strings.h>

static const char *ending_of(const char *name)
{
    const char *base = path_base(name), *point = strrchr(base, '.');
    return point && point > base ? point + 1 : NULL;
}

static bool is_listed(const char *word, const char *words)
{
    size_t length = strlen(word);
    for (const char *w = words; *w; w += strspn(w, " ")) {
        size_t size = strcspn(w, " ");
        if (size == length && strncasecmp(w, word, size) == 0) {
            return true;
        }
        w += size;
    }
    return false;
}

/* NULL if no format's names end so. */
static const struct format *format_of(const char *name)
{
    const char *ending = ending_of(name);
    for (const struct format *f = format_table; ending && f->name; f++) {
        if (is_listed(ending, f->endings)) {
            return f;
        }
    }
    return NULL;
}

bool frame_name_is_frame(const char *name)
{
    return path_base(name)[0] != '.' && format_of(name);
}

bool frame_name_is_raw(const char *name)
{
    const struct format *format = format_of(name);
    return format && format->can.camera_raw;
}

bool frame_name_same_stem(const char *a, const char *b)
{
    const char *end_a = ending_of(a), *end_b = ending_of(b);
    return end_a && end_b && end_a - a == end_b - b && memcmp(a, b, (size_t)(end_a - a)) == 0;
}

static size_t digits_at(const char *text)
{
    size_t digits = 0;
    while (isdigit((unsigned char)text[digits])) {
        digits++;
    }
    return digits;
}

/* Two numbers by their values: leading zeros apart, the longer one is larger. */
static int compare_numbers(const char **a, const char **b)
{
    size_t digits_a = digits_at(*a), digits_b = digits_at(*b);
    const char *end_a = *a + digits_a, *end_b = *b + digits_b;
    while (digits_a > 1 && **a == '0') {
        ++*a, digits_a--;
    }
    while (digits_b > 1 && **b == '0') {
        ++*b, digits_b--;
    }
    int order = digits_a != digits_b ? (digits_a < digits_b ? -1 : 1) : memcmp(*a, *b, digits_a);
    *a = end_a;
    *b = end_b;
    return order;
}

int frame_name_compare(const char *a, const char *b)
{
    const char *x = a, *y = b;
    while (*x && *y) {
        int order;
        if (isdigit((unsigned char)*x) && isdigit((unsigned char)*y)) {
            order = compare_numbers(&x, &y);
        } else {
            order = (unsigned char)*x - (unsigned char)*y;
            x++, y++;
        }
        if (order) {
            return order;
        }
    }
    return *x || *y ? (*x ? 1 : -1) : strcmp(a, b);
}
