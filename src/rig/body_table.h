/* rig/body_table.h: how large the sensors of known cameras are. */
#ifndef ALIDADE_RIG_BODY_TABLE_H
#define ALIDADE_RIG_BODY_TABLE_H

#include "base/error.h"
#include "image/frame.h"

/* A camera by the names that it writes into EXIF Make and Model. */
struct known_body {
    char maker[32], model[48];
    double crop_factor; /* 43.27 mm, the diagonal of 36 x 24 mm, over the sensor's */
};

/* Starts as all zeros; free with body_table_free. */
struct body_table {
    struct known_body *body;
    int bodies;
};

/* Reads bodies.tsv in the folder. ERROR_INPUT (the file lacks or holds what it must not),
 * ERROR_MEMORY; the table is empty then. */
int body_table_load(struct body_table *table, const char *folder, struct error *err);
void body_table_free(struct body_table *table);

/* The body that is meant by a camera's name as struct frame_facts has it, or NULL. Letter case does
 * not matter; of several models that the name ends with the longest counts. */
const struct known_body *body_table_find(const struct body_table *table, const char *camera);

enum { BODY_TABLE_HINTS = 5 };

/* The same for a name that somebody typed: the only model that has it as a part will do.
 * ERROR_USAGE with a sentence that lists models like it. */
int body_table_look_up(const struct known_body **body, const struct body_table *table,
                       const char *name, struct error *err);

/* Notes the pixel pitch of a picture, width x height, from its camera's sensor where neither the
 * file nor anybody else has told it: the diagonal of the sensor over that of the pixels. Left
 * unknown when the picture was cropped, or has another shape than sensors have (3:2, 4:3). */
void body_table_note_pitch(struct frame_facts *facts, const struct body_table *table, int width,
                           int height);

#endif
