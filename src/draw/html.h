/* draw/html.h: text that goes into a page. */
#ifndef ALIDADE_DRAW_HTML_H
#define ALIDADE_DRAW_HTML_H

#include <stddef.h>
#include <stdio.h>

/* Writes text so that it shows as it is, as content or as a quoted attribute: nothing in it can be
 * taken for markup. Bytes that are not UTF-8 and control characters show as \xFF. */
void html_write(FILE *out, const char *text);

/* Writes bytes as base64 (RFC 4648). */
void html_write_base64(FILE *out, const unsigned char *bytes, size_t size);

#endif
