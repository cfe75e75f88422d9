/* cli/object_report.h: what is known of one object. */
#ifndef ALIDADE_CLI_OBJECT_REPORT_H
#define ALIDADE_CLI_OBJECT_REPORT_H

#include "base/schema.h"
#include "draw/other_frame.h"
#include "objects/field.h"

#include <stdio.h>

/* A few lines, the answer first. frame: of the camera and lens that the object is held against, its
 * width >= height. */
void object_report_text(FILE *out, const struct object *object, const struct other_frame *frame,
                        const struct atlas *atlas);

/* One JSON object on one line. ERROR_MEMORY only. */
int object_report_json(FILE *out, const struct object *object, const struct other_frame *frame,
                       const struct atlas *atlas, struct error *err);

/* The keys that tell of an object itself, into an object that is open. */
void object_json_facts(struct json *json, const struct object *object, const struct atlas *atlas);

#endif
