/* web/engine/packed_stars.h: the page's stars come as assemble/pack_stars.js packed them, and go
 * into the index without becoming text in between. The linker (src/web/web.mk) puts this in place
 * of the library's function. */
#ifndef ALIDADE_WEB_ENGINE_PACKED_STARS_H
#define ALIDADE_WEB_ENGINE_PACKED_STARS_H

#include "catalogue.h"

/* As catalogue_read; a file that begins as packed stars do gives the same stars as the table that
 * they were packed from.
 */
int __wrap_catalogue_read(struct catalogue *catalogue, struct catalogue_report *report,
                          const char *name, const struct catalogue_columns *columns,
                          catalogue_progress progress, void *context, struct error *err);

#endif
