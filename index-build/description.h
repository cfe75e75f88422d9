/* index-build/description.h: the byte-by-byte description that stands beside a table of fixed
 * width, in the form that catalogue services and journals share. */
#ifndef ALIDADE_INDEX_BUILD_DESCRIPTION_H
#define ALIDADE_INDEX_BUILD_DESCRIPTION_H

#include "column_list.h"

#include <stdbool.h>
#include <stddef.h>

/* Reads "Byte-by-byte Description of file: NAMES" and the rows
 * "BYTES FORMAT UNITS LABEL EXPLANATION" below it (Standards for Astronomical Catalogues, version
 * 2.0, chapter 3), where an explanation that begins with "?=-9.9" tells what stands for a missing
 * value. table: the file whose description is wanted, its folder and ".gz" aside; NULL or no match:
 * the only one there is. source names the described text in messages. The columns are in list, with
 * first and last set; *end, when not NULL, is where the description ends. ERROR_INPUT when there is
 * no description, more than one and none of them for the table, or a row that makes no sense (with
 * its line). */
int description_read(struct column_list *list, const char **end, const char *text, size_t size,
                     const char *source, const char *table, struct error *err);

/* Whether the text describes exactly this file. */
bool description_names(const char *text, size_t size, const char *table);

/* Whether the text holds a description at all. */
bool description_is_there(const char *text, size_t size);

#endif
