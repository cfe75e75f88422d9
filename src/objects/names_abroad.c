#include "objects/names_abroad.h"

#include "base/catalogue_table.h"
#include "objects/name_key.h"
#include "objects/object_rows.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum { ID, NAME };

/* What kind of thing it is, before or behind the name; of two that fit the longer stands first. */
static const char *const kinds_before[] = {
    "nebuleusedela", "nebuleusedes", "nebuleusedu", "nebuleuse", "nebulosadela", "nebulosadel",
    "nebulosade",    "nebulosado",   "nebulosada",  "nebulosa",  "mglawica",     "mlhovinav",
    "mlhovina",      "galaxiedela",  "galaxiedu",   "galaxiev",  "galaxie",      "galaxiadela",
    "galaxiadel",    "galaxiade",    "galaxiado",   "galaxiada", "galaxia",      "galassia",
    "galaktyka",     "amasdela",     "amasdu",      "amas",      "cumulodela",   "cumulodel",
    "cumulode",      "ammasso",      "aglomerado",  "gromada",   "hvezdokupa"};
static const char *const kinds_behind[] = {"nebulosan",  "nebel",   "nevel",      "mlhovina",
                                           "galaxie",    "galaxen", "stelsel",    "haufen",
                                           "hvezdokupa", "hopen",   "sterrenhoop"};

/* The part of a key that tells things of a kind apart; the whole key if little would be left. */
static void write_proper(char proper[NAME_KEY_SIZE], const char *key)
{
    enum { LEAST = 3 };
    size_t length = strlen(key);
    snprintf(proper, NAME_KEY_SIZE, "%s", key);
    for (size_t i = 0; i < sizeof kinds_before / sizeof *kinds_before; i++) {
        size_t size = strlen(kinds_before[i]);
        if (length >= size + LEAST && strncmp(key, kinds_before[i], size) == 0) {
            snprintf(proper, NAME_KEY_SIZE, "%s", key + size);
            return;
        }
    }
    for (size_t i = 0; i < sizeof kinds_behind / sizeof *kinds_behind; i++) {
        size_t size = strlen(kinds_behind[i]);
        if (length >= size + LEAST && strcmp(key + length - size, kinds_behind[i]) == 0) {
            proper[length - size] = '\0';
            return;
        }
    }
}

/* Letters that are written as two where a keyboard lacks them; false if the name has none. */
static bool write_out_letters(char *out, size_t size, const char *name)
{
    static const char *const pairs[][2] = {{"ä", "ae"}, {"ö", "oe"}, {"ü", "ue"}, {"Ä", "Ae"},
                                           {"Ö", "Oe"}, {"Ü", "Ue"}, {"ß", "ss"}, {"œ", "oe"},
                                           {"Œ", "Oe"}, {"å", "aa"}};
    const size_t all = sizeof pairs / sizeof *pairs;
    size_t length = 0;
    bool any = false;
    while (*name && length + 2 < size) {
        size_t i = (unsigned char)*name < 0x80 ? all : 0; /* none of them is ASCII */
        while (i < all && strncmp(name, pairs[i][0], 2) != 0) {
            i++;
        }
        out[length++] = i < all ? pairs[i][1][0] : *name;
        if (i < all) {
            out[length++] = pairs[i][1][1];
            any = true;
        }
        name += i < all ? 2 : 1;
    }
    out[length] = '\0';
    return any;
}

/* What is looked for: whole, and the part that tells things of a kind apart. */
struct wanted_name {
    char key[NAME_KEY_SIZE], proper[NAME_KEY_SIZE];
};

/* 2 if they are the same, 1 but for the kind, else 0. */
static int likeness(const struct wanted_name *wanted, const char *name)
{
    char key[NAME_KEY_SIZE], proper[NAME_KEY_SIZE];
    name_key(key, name, NULL);
    if (strcmp(key, wanted->key) == 0) {
        return 2;
    }
    write_proper(proper, key);
    return strcmp(proper, wanted->proper) == 0;
}

static int row_likeness(const struct wanted_name *wanted, const struct catalogue_table *file)
{
    char name[120], written_out[240];
    table_text(&file->table, file->column[NAME], name, sizeof name);
    int plain = likeness(wanted, name);
    if (!write_out_letters(written_out, sizeof written_out, name)) {
        return plain;
    }
    int out = likeness(wanted, written_out);
    return plain > out ? plain : out;
}

int names_abroad_find(char id[NAMES_ABROAD_ID], const char *folder, const char *name,
                      struct error *err)
{
    static const char *const columns[] = {"id", "name", NULL};
    struct catalogue_table file;
    struct wanted_name wanted;
    int best = 0;
    id[0] = '\0';
    name_key(wanted.key, name, NULL);
    write_proper(wanted.proper, wanted.key);
    if (!*wanted.key || !object_rows_present(folder, "names-abroad.tsv")) {
        return 0;
    }
    int code = catalogue_table_open(&file, folder, "names-abroad.tsv", columns, err);
    if (code) {
        return code;
    }
    while (table_next(&file.table)) {
        int like = row_likeness(&wanted, &file);
        if (like > best) {
            best = like;
            table_text(&file.table, file.column[ID], id, NAMES_ABROAD_ID);
        }
    }
    catalogue_table_close(&file);
    return 0;
}
