/* objects/names_abroad.h: what objects are called in other languages. */
#ifndef ALIDADE_OBJECTS_NAMES_ABROAD_H
#define ALIDADE_OBJECTS_NAMES_ABROAD_H

#include "base/error.h"

enum { NAMES_ABROAD_ID = 48 };

/* Looks a name (UTF-8) up in names-abroad.tsv of the folder and writes the id that the tables have
 * for it; "" if there is none, or no such table. Spelling is forgiven as in name_key.h, letters may
 * be written out ("Moewe", "Oeil"), and a word such as nebula may be left out, or stand before
 * ("nebulosa del Velo", "Velo"). ERROR_INPUT if the table cannot be read. */
int names_abroad_find(char id[NAMES_ABROAD_ID], const char *folder, const char *name,
                      struct error *err);

#endif
