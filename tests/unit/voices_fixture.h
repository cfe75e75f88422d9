/* tests/unit/voices_fixture.h: figures read from what the program says, in words and in JSON, as a
 * person or another program would read them. */
#ifndef ALIDADE_TESTS_VOICES_FIXTURE_H
#define ALIDADE_TESTS_VOICES_FIXTURE_H

#include <stdio.h>

/* Of json-c, whose header and base/json.h have names in common. */
struct json_object;

/* What a part of the program writes to a stream. */
struct voice {
    FILE *stream;
    char *text;
    size_t size;
};
void voice_begin(struct voice *voice);
/* Its text with each run of blanks and ends of lines as one blank, to be freed. */
char *voice_end(struct voice *voice);
/* The JSON that it is, to be freed by voice_free_json. */
struct json_object *voice_end_json(struct voice *voice);
void voice_free_json(struct json_object *object);

/* All text of a PDF, as Poppler's pdftotext reads it, likewise flat and to be freed; NULL if that
 * is not installed. */
char *voice_of_pdf(const char *path);
/* All of a file, likewise. */
char *voice_of_file(const char *path);

/* The number behind each place where these words stand must be that, to so much; there must be one
 * such place at least. A number may be a fraction ("1/4"), and may have "<b>" and the like before
 * it. */
void voice_says(const char *text, const char *words, double wanted, double within);
/* The same where the words are there; returns in how many places. */
int voice_may_say(const char *text, const char *words, double wanted, double within);

/* Follows "shots.exposure_s"; NAN if there is no such number. */
double voice_number(struct json_object *object, const char *path);
/* "" if there is no such text; of a list, its first. */
const char *voice_word(struct json_object *object, const char *path);

#endif
