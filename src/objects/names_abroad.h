/* objects/names_abroad.h: what objects are called in other languages. */
#ifndef ALIDADE_OBJECTS_NAMES_ABROAD_H
#define ALIDADE_OBJECTS_NAMES_ABROAD_H

#include "base/error.h"

enum { NAMES_ABROAD_ID = 48 };

/* The rows of names-abroad.tsv. Starts as all zeros: no names. */
struct names_abroad {
    struct name_abroad *row;
    int count;
};

/* Reads the table in a folder; no names if there is none. ERROR_INPUT naming file and line,
 * ERROR_MEMORY. Inverse: names_abroad_free. */
int names_abroad_load(struct names_abroad *names, const char *folder, struct error *err);
void names_abroad_free(struct names_abroad *names);

/* The id that the other tables have for a name (UTF-8), or NULL; borrowed. Spelling is forgiven as
 * in name_key.h, letters may be written out ("Moewe", "Oeil"), and a word such as nebula may be
 * left out, or stand before ("nebulosa del Velo", "Velo"). */
const char *names_abroad_find(const struct names_abroad *names, const char *name);

#endif
