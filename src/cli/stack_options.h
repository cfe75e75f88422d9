/* cli/stack_options.h: the option --stack, and what is said of a stack. */
#ifndef ALIDADE_CLI_STACK_OPTIONS_H
#define ALIDADE_CLI_STACK_OPTIONS_H

#include "base/options.h"
#include "base/outputs.h"
#include "jobs/night_stack.h"
#include "night/emergence.h"

#include <stdio.h>

/* For a struct stack_wish; may be given twice. */
bool stack_option_read(void *member, const char *text);

#define STACK_OPTION(settings, member, words)                                                      \
    {                                                                                              \
        .name = "stack", .kind = OPTION_READ, .argument = "FILE", .help = words,                   \
        .store = offsetof(struct settings, member), .read = stack_option_read,                     \
        .expected = "a name that ends in .png or .fits"                                            \
    }

/* Names the files to outputs. ERROR_MEMORY. */
int stack_option_claim(struct outputs *outputs, const struct stack_wish *wish, struct error *err);

/* Lines of text: how the target stands in the stack, what is in it, and that it is a glimpse. */
void stack_report_text(FILE *out, const struct emergence *emergence, int columns);

#endif
