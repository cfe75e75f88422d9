/* base/options_parts.h: what reading options and writing their help share. */
#ifndef ALIDADE_BASE_OPTIONS_PARTS_H
#define ALIDADE_BASE_OPTIONS_PARTS_H

#include "base/options.h"

static inline bool options_is_end(const struct option_row *row)
{
    return !row->name && row->kind != OPTION_HEADING;
}

static inline bool options_takes_value(const struct option_row *row)
{
    return row->kind != OPTION_FLAG;
}

/* Whether something must stand behind it. */
static inline bool options_needs_value(const struct option_row *row)
{
    return options_takes_value(row) && row->kind != OPTION_OPTIONAL;
}

#endif
