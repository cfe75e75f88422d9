#include "cli/index_place.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#ifndef ALIDADE_DATA_DIR
#error "the Makefile gives the place of installed data"
#endif

enum { PATH_SIZE = 4096, MOST_PLACES = 3 };

/* What is looked for: a file in one of some folders; those that begin with "../" or "." count from
 * the program's. */
struct wanted {
    const char *variable, *option;
    const char *folder[MOST_PLACES];
    const char *file;
    bool answer_is_folder;
    const char *what;
};

static const struct wanted wanted_index = {
    .variable = "ALIDADE_INDEX",
    .option = "--index",
    .folder = {".", "../share/alidade", ALIDADE_DATA_DIR},
    .file = "hipparcos.alidx",
    .what = "index",
};

static const struct wanted wanted_catalogs = {
    .variable = "ALIDADE_CATALOGS",
    .option = "--catalogs",
    .folder = {"../catalogs", "../share/alidade", ALIDADE_DATA_DIR},
    .file = "objects.tsv",
    .answer_is_folder = true,
    .what = "tables of objects",
};

/* The folder that the running program lies in; "." if the system does not tell. */
static void program_folder(char *out, size_t size)
{
    ssize_t length = readlink("/proc/self/exe", out, size - 1);
    out[length > 0 ? length : 0] = '\0';
    char *slash = strrchr(out, '/');
    if (slash) {
        *slash = '\0';
    } else {
        snprintf(out, size, ".");
    }
}

/* snprintf that tells whether all fitted. */
static bool join(char *out, size_t size, const char *folder, const char *name)
{
    int length = snprintf(out, size, "%s/%s", folder, name);
    return length > 0 && (size_t)length < size;
}

static bool try_folder(char *out, size_t size, const char *program, const struct wanted *wanted,
                       const char *folder)
{
    char place[PATH_SIZE], file[PATH_SIZE];
    bool fits = folder[0] == '/' ? snprintf(place, sizeof place, "%s", folder) < PATH_SIZE
                                 : join(place, sizeof place, program, folder);
    if (!fits || !join(file, sizeof file, place, wanted->file) || access(file, R_OK) != 0) {
        return false;
    }
    const char *answer = wanted->answer_is_folder ? place : file;
    return (size_t)snprintf(out, size, "%s", answer) < size;
}

static int find(char *out, size_t size, const char *option, const struct wanted *wanted,
                struct error *err)
{
    const char *variable = getenv(wanted->variable);
    const char *given = option ? option : variable && *variable ? variable : NULL;
    if (given) {
        if ((size_t)snprintf(out, size, "%s", given) >= size) {
            return error_set(err, ERROR_USAGE, "%s: the name is too long", wanted->option);
        }
        return 0;
    }
    char program[PATH_SIZE];
    program_folder(program, sizeof program);
    for (int i = 0; i < MOST_PLACES; i++) {
        if (try_folder(out, size, program, wanted, wanted->folder[i])) {
            return 0;
        }
    }
    return error_set(
        err, ERROR_INPUT,
        "no %s found: neither beside %.200s nor in %.200s is there %s; set its path with %s",
        wanted->what, program, ALIDADE_DATA_DIR, wanted->file, wanted->option);
}

int index_place(char *out, size_t size, const char *option, struct error *err)
{
    return find(out, size, option, &wanted_index, err);
}

int catalogs_place(char *out, size_t size, const char *option, struct error *err)
{
    return find(out, size, option, &wanted_catalogs, err);
}

bool index_names_read(void *member, const char *text)
{
    struct index_names *names = member;
    if (names->count == INDEX_NAMES_MOST) {
        return false;
    }
    names->name[names->count++] = text;
    return true;
}

int index_places(const struct index_names *names,
                 int (*each)(const char *name, void *context, struct error *err), void *context,
                 struct error *err)
{
    char place[PATH_SIZE];
    int code = 0;
    for (int i = 0; i < (names->count ? names->count : 1) && !code; i++) {
        code = index_place(place, sizeof place, names->name[i], err);
        code = code ? code : each(place, context, err);
    }
    return code;
}
