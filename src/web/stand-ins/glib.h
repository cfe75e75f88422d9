/* web/stand-ins/glib.h: as much of GLib as src/draw uses, for a page; as GLib's manual says. */
#ifndef ALIDADE_WEB_STAND_INS_GLIB_H
#define ALIDADE_WEB_STAND_INS_GLIB_H

#include <stdbool.h>
#include <stdlib.h>

bool g_utf8_validate(const char *text, long length, const char **end); /* length -1, end NULL */
char *g_utf8_strup(const char *text, long length);                     /* length -1; g_free it */
#define g_free free

#endif
