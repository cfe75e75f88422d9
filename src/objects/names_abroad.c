#include "objects/names_abroad.h"

#include "base/catalogue_table.h"
#include "objects/name_key.h"
#include "objects/object_rows.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
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

/* What a name is compared by: whole, and the part that tells things of a kind apart. */
struct name_parts {
    char key[NAME_KEY_SIZE], proper[NAME_KEY_SIZE];
};

struct name_abroad {
    char id[NAMES_ABROAD_ID];
    struct name_parts plain, written_out; /* of letters that may be; else the same */
};

static void split_name(struct name_parts *parts, const char *name)
{
    name_key(parts->key, name, NULL);
    write_proper(parts->proper, parts->key);
}

/* 2 if they are the same, 1 but for the kind, else 0. */
static int likeness(const struct name_parts *wanted, const struct name_parts *known)
{
    return strcmp(known->key, wanted->key) == 0 ? 2 : strcmp(known->proper, wanted->proper) == 0;
}

static int row_likeness(const struct name_parts *wanted, const struct name_abroad *row)
{
    int plain = likeness(wanted, &row->plain), out = likeness(wanted, &row->written_out);
    return plain > out ? plain : out;
}

static void read_row(struct name_abroad *row, const struct catalogue_table *file)
{
    char name[120], written_out[240];
    table_text(&file->table, file->column[ID], row->id, sizeof row->id);
    table_text(&file->table, file->column[NAME], name, sizeof name);
    split_name(&row->plain, name);
    row->written_out = row->plain;
    if (write_out_letters(written_out, sizeof written_out, name)) {
        split_name(&row->written_out, written_out);
    }
}

static struct name_abroad *add_row(struct names_abroad *names, int *room)
{
    if (names->count == *room) {
        int larger = *room ? 2 * *room : 1024;
        struct name_abroad *grown = realloc(names->row, sizeof *grown * (size_t)larger);
        if (!grown) {
            return NULL;
        }
        names->row = grown;
        *room = larger;
    }
    return &names->row[names->count++];
}

int names_abroad_load(struct names_abroad *names, const char *folder, struct error *err)
{
    static const char *const columns[] = {"id", "name", NULL};
    struct catalogue_table file;
    int room = 0;
    *names = (struct names_abroad){0};
    if (!object_rows_present(folder, "names-abroad.tsv")) {
        return 0;
    }
    int code = catalogue_table_open(&file, folder, "names-abroad.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&file.table)) {
        struct name_abroad *row = add_row(names, &room);
        code = row ? 0 : error_memory(err);
        if (row) {
            read_row(row, &file);
        }
    }
    catalogue_table_close(&file);
    if (code) {
        names_abroad_free(names);
    }
    return code;
}

const char *names_abroad_find(const struct names_abroad *names, const char *name)
{
    const struct name_abroad *found = NULL;
    struct name_parts wanted;
    int best = 0;
    split_name(&wanted, name);
    for (int i = 0; *wanted.key && i < names->count; i++) {
        int like = row_likeness(&wanted, &names->row[i]);
        if (like > best) {
            best = like;
            found = &names->row[i];
        }
    }
    return found ? found->id : NULL;
}

void names_abroad_free(struct names_abroad *names)
{
    free(names->row);
    *names = (struct names_abroad){0};
}
