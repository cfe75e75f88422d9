/* jobs/rig_keep.h: what was learned -> the settings file. */
#ifndef ALIDADE_JOBS_RIG_KEEP_H
#define ALIDADE_JOBS_RIG_KEEP_H

#include "rig/rig.h"

/* Puts values into a section of the settings file, as rig_edit; neither the file nor its folder
 * need exist yet. ERROR_INPUT for a file that cannot be read, ERROR_OUTPUT, ERROR_MEMORY. */
int rig_keep(const char *file, const char *section, const struct rig_value *values, int count,
             struct error *err);

/* Values of one section: "head Ball". */
struct rig_lesson {
    const char *section;
    const struct rig_value *values;
    int count;
};

/* The same of several sections, one after the other; all are written or none is. */
int rig_keep_all(const char *file, const struct rig_lesson *lesson, int lessons, struct error *err);

#endif
