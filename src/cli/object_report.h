/* cli/object_report.h: what is known of one object. */
#ifndef ALIDADE_CLI_OBJECT_REPORT_H
#define ALIDADE_CLI_OBJECT_REPORT_H

#include "base/schema.h"
#include "objects/field.h"

#include <stdio.h>

/* The frame of a camera and lens that the object is held against. All zeros: none is known. */
struct object_frame {
    double width_deg, height_deg; /* width >= height */
    char name[60];                /* "250 mm on 22.2 × 14.8 mm" */
};

/* A few lines, the answer first. */
void object_report_text(FILE *out, const struct object *object, const struct object_frame *frame,
                        const struct atlas *atlas);

/* One JSON object on one line. ERROR_MEMORY only. */
int object_report_json(FILE *out, const struct object *object, const struct object_frame *frame,
                       const struct atlas *atlas, struct error *err);

/* The keys that tell of an object itself, into an object that is open. */
void object_json_facts(struct json *json, const struct object *object, const struct atlas *atlas);

#endif
