/* base/error.h: the one error type of the project. */
#ifndef ALIDADE_BASE_ERROR_H
#define ALIDADE_BASE_ERROR_H

/* The values are the exit codes of the programs. */
enum error_code {
    ERROR_NONE = 0,
    ERROR_NO = 1,       /* an honest "no": nothing went wrong, the answer is negative */
    ERROR_USAGE = 2,    /* the request itself is wrong */
    ERROR_INPUT = 3,    /* an input could not be read or understood */
    ERROR_OUTPUT = 4,   /* an output could not be written */
    ERROR_MEMORY = 5,   /* out of memory; programs exit with 3 */
    ERROR_CANCELLED = 6 /* the caller wanted no more; what was asked for is not there */
};

/* Why an input could not be read, where that is known. All but the first may pass: the same file
 * may be readable another time. */
enum error_cause {
    CAUSE_CONTENT = 0, /* what the file holds; or it is not known */
    CAUSE_SHORT,       /* it ends too early: perhaps it is still being copied */
    CAUSE_PERMISSION,
    CAUSE_VANISHED, /* no such file any more: deleted, a card that was drawn, a drive that left */
    CAUSE_DEVICE,   /* the disk, card or network failed to read it */
    CAUSE_MEMORY,
    ERROR_CAUSES
};

/* What whoever asked can do about it, where that is known: front ends say it in their own words,
 * with the options, buttons or members that they have for it. */
enum error_remedy {
    REMEDY_NONE = 0,
    REMEDY_LENS,           /* tell which lens it is for */
    REMEDY_PLACE,          /* tell where the tripod stands */
    REMEDY_PLACE_AND_ZONE, /* and which zone the camera's clock shows */
    REMEDY_CLOCK_ZONE,     /* tell which zone the camera's clock shows */
    REMEDY_ZONE,           /* tell which zone a time is of */
    REMEDY_OWN_FOCAL,      /* tell the frame's focal length, or the size of the other sensor */
    REMEDY_LOG,            /* name another file for the log */
    REMEDY_NEW_FITS,       /* write a FITS file of its own instead */
    REMEDY_REPLACE,        /* name another file, or allow that it is replaced */
    ERROR_REMEDIES
};

/* Owned by the caller, starts as all zeros, untouched on success. */
struct error {
    int code; /* enum error_code */
    enum error_cause cause;
    enum error_remedy remedy;
    char text[500]; /* one sentence, no newline: file, place, what was expected */
};

/* Fills err (which may be NULL) and returns code, so that a function can end with
 * `return error_set(err, ERROR_INPUT, "%s: ...", name);`. */
int error_set(struct error *err, int code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Adds why to an error that error_set has filled; err may be NULL. Returns code. */
int error_because(struct error *err, int code, enum error_cause cause);
/* Adds a remedy to an error that error_set has filled; err may be NULL. Returns code. */
int error_remedied(struct error *err, int code, enum error_remedy remedy);
/* What a number of errno says of an input. */
enum error_cause error_cause_of(int number);
/* For machines, lower case: "permission". Inverse: error_cause_read, which gives CAUSE_CONTENT for
 * anything else. */
const char *error_cause_key(enum error_cause cause);
enum error_cause error_cause_read(const char *key);

/* The same for a failed allocation; always returns ERROR_MEMORY. */
int error_memory(struct error *err);

/* Puts "prefix: " in front of the text of err, which must be set; returns err->code. */
int error_prefix(struct error *err, const char *prefix);

#endif
