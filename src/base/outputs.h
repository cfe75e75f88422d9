/* base/outputs.h: what a command reads and what it writes, so that no output harms what is there.
 *
 * A command names all its inputs and outputs, then calls outputs_check, before it reads or computes
 * anything. An output that is an input, or another output, is refused, whatever it is called. An
 * output that exists and holds something to be kept is refused too, unless that is what the same
 * option wrote last time, or the user says --replace. */
#ifndef ALIDADE_BASE_OUTPUTS_H
#define ALIDADE_BASE_OUTPUTS_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* What a file holds; see file_kind_look in night/file_kind.h. */
enum file_kind {
    FILE_OTHER,    /* nothing known here, nothing at all, or no file */
    FILE_PICTURE,  /* of a camera, or made from such */
    FILE_FITS,     /* FITS with data */
    FILE_DRAWING,  /* a picture that this project drew and nobody has changed into a photograph */
    FILE_LOG,      /* lines of measured frames */
    FILE_SETTINGS, /* bodies, lenses, places */
    FILE_INDEX,    /* stars and quads */
    FILE_SEALED    /* it may not be read, so there is no telling */
};

/* Set of kinds, for struct output. */
#define FILE_KIND_BIT(kind) (1U << (kind))

typedef enum file_kind file_kind_teller(const char *name);

/* One output. Borrowed texts. */
struct output {
    const char *name;     /* NULL: not wanted; nothing happens */
    const char *option;   /* "--csv" */
    const char *advice;   /* ends the refusal to write over an input: "; expected ..."; or NULL */
    unsigned may_replace; /* kinds that the option wrote itself the last time */
    bool is_added_to;     /* lines are added to what is there; its writer checks what that is */
    bool is_tried_later;  /* its folder is made later, or it is not needed: no trial */
};

struct output_claim;

/* Starts as all zeros; free with outputs_free. */
struct outputs {
    bool replace; /* the user has said --replace */
    struct output_claim *claim;
    int count, capacity;
};

/* A row of a table of options, for a bool member. */
#define OUTPUTS_REPLACE_OPTION(settings, member)                                                   \
    {                                                                                              \
        .name = "replace",                                                                         \
        .help = "write also over pictures, logs, settings files and indexes that are there, but "  \
                "never over what this run reads",                                                  \
        .store = offsetof(struct settings, member)                                                 \
    }

/* Adds a file that will be read; what is words for it: "the frame itself". NULL or a name that does
 * not lead anywhere are fine. The names and words are borrowed. ERROR_MEMORY. */
int outputs_add_input(struct outputs *outputs, const char *name, const char *what,
                      struct error *err);

/* Adds all that lies in a folder, if wanted (NULL: any) says so of its name. ERROR_MEMORY. */
int outputs_add_folder(struct outputs *outputs, const char *folder, const char *what,
                       bool (*wanted)(const char *name), struct error *err);

/* ERROR_MEMORY. */
int outputs_add(struct outputs *outputs, const struct output *output, struct error *err);

/* ERROR_USAGE for an output that is an input or another output; ERROR_OUTPUT for one that holds
 * what is kept, or that cannot be written. Writes nothing. tell says what a file holds. */
int outputs_check(const struct outputs *outputs, file_kind_teller *tell, struct error *err);

void outputs_free(struct outputs *outputs);

#endif
