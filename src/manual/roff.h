/* manual/roff.h: text as source of a manual page (mdoc). */
#ifndef ALIDADE_MANUAL_ROFF_H
#define ALIDADE_MANUAL_ROFF_H

#include <stddef.h>
#include <stdio.h>

/* Writes UTF-8 text as filled lines of at most 78 bytes, each sentence beginning a line; nothing in
 * it is taken for a macro. "\n\n" begins a paragraph, a single '\n' is a blank. */
void roff_write_text(FILE *out, const char *text);

/* Writes the first bytes of text, escaped, as arguments of a macro on the line that is begun. */
void roff_write_words(FILE *out, const char *text, size_t bytes);

/* Writes a line of a page's source with what is not ASCII as escapes. The line has no '\n'. */
void roff_write_source(FILE *out, const char *line);

#endif
