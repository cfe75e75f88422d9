/* manual/manual_page.h: a manual page (mdoc) from its source and the tables of the programs. */
#ifndef ALIDADE_MANUAL_MANUAL_PAGE_H
#define ALIDADE_MANUAL_MANUAL_PAGE_H

#include "base/command.h"
#include "base/error.h"
#include "base/schema.h"

#include <stdio.h>

/* Writes the page of a source: mdoc in UTF-8, in which lines that begin with '@' stand for what the
 * tables know. COMMAND is one of the program's, or "-" for the program itself.
 *
 *     @title COMMAND            beginning of a page of section 1, with its section NAME
 *     @title NAME SECTION TEXT  the same for other pages
 *     @synopsis COMMAND         its lines of SYNOPSIS
 *     @about COMMAND            what its help says beside the options
 *     @options COMMAND          its options, in groups as in its help
 *     @commands                 the program's commands with references to their pages
 *     @exits                    the exit codes
 *     @keys SECTION             keys of a section of the settings file
 *     @json TABLE               what a JSON object is, and its keys
 *
 * tables end with NULL. date is the day for the page's foot, "November 29, 2026". ERROR_INPUT
 * naming source and line for a line that cannot be read, an '@' that is none of these, a command
 * that does not exist. */
int manual_page_write(FILE *out, FILE *source, const char *source_name,
                      const struct program *program, const struct schema *const *tables,
                      const char *date, struct error *err);

#endif
