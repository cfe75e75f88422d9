#include "draw/layers.h"

#include "base/text.h"

#include <stdio.h>
#include <string.h>

#define ROW(name, word, narrowest, widest) {word, narrowest, widest},
static const struct layer_row {
    const char *word;
    double narrowest, widest;
} rows[LAYERS] = {LAYER_TABLE(ROW)};
#undef ROW

bool layers_have(layer_set set, enum layer layer)
{
    return (set >> layer & 1) != 0;
}

const char *layer_word(enum layer layer)
{
    return rows[layer].word;
}

layer_set layers_for_field(double longer_side_deg)
{
    layer_set set = 0;
    for (unsigned i = 0; i < LAYERS; i++) {
        bool fits = longer_side_deg >= rows[i].narrowest && longer_side_deg < rows[i].widest;
        set |= fits ? 1U << i : 0;
    }
    return set;
}

static layer_set find_word(const char *word, size_t length)
{
    if (length == 3 && strncmp(word, "all", 3) == 0) {
        return (1U << LAYERS) - 1;
    }
    for (unsigned i = 0; i < LAYERS; i++) {
        if (strlen(rows[i].word) == length && strncmp(rows[i].word, word, length) == 0) {
            return 1U << i;
        }
    }
    return 0;
}

static int refuse(const char *word, size_t length, struct error *err)
{
    char list[200] = "";
    for (int i = 0; i < LAYERS; i++) {
        text_append(list, sizeof list, "%s, ", rows[i].word);
    }
    return error_set(err, ERROR_USAGE, "no layer is called \"%.*s\": there are %sand all",
                     length < 40 ? (int)length : 40, word, list);
}

int layers_read(layer_set *set, const char *text, struct error *err)
{
    layer_set found = 0;
    for (const char *word = text;; word++) {
        size_t length = strcspn(word, ",");
        layer_set one = find_word(word, length);
        if (!one) {
            return refuse(word, length, err);
        }
        found |= one;
        word += length;
        if (!*word) {
            *set = found;
            return 0;
        }
    }
}
