/* base/command.h: a program made of commands, described by a table that drives dispatch and help.
 * Only the programs use this: it prints. */
#ifndef ALIDADE_BASE_COMMAND_H
#define ALIDADE_BASE_COMMAND_H

#include "base/error.h"
#include "base/options.h"

#include <stdio.h>

enum { COMMAND_MAX_SETTINGS = 4096, COMMAND_ANY_NUMBER = -1 };

/* One command. The file that holds its run function holds this too. */
struct command {
    const char *name;
    const char *summary;  /* a line for the list of commands; also the first line of its help */
    const char *operands; /* as the synopsis shows them: "CATALOGUE"; NULL if it takes none */
    int least, most;      /* how many operands; most may be COMMAND_ANY_NUMBER */
    const char *about;    /* what else its help says, paragraphs parted by "\n\n"; may be NULL */
    const struct option_row *options;
    const void *defaults; /* the settings structure before any option is read; NULL: zeros */
    size_t settings_size; /* at most COMMAND_MAX_SETTINGS */
    /* Does the work: answers go to out, problems to err. Returns enum error_code; ERROR_NO may
     * leave err alone when the answer itself has said no. */
    int (*run)(const void *settings, int operands, char **operand, FILE *out, struct error *err);
};

/* What an exit code says: "the command line is wrong". */
struct exit_row {
    int code;
    const char *meaning;
};

struct program {
    const char *name, *version;
    const char *summary;                   /* a line, as a command's, with a small letter */
    const char *about;                     /* a paragraph for the help */
    const struct command *const *commands; /* in the order of the help; ends with NULL */
    const struct exit_row *exits;          /* close every help text; end with a row of zeros */
    const char *epilogue;                  /* comes behind them; may be NULL */
    /* What it calls a remedy, to end a complaint with; NULL: it has none. */
    const char *(*remedy)(enum error_remedy remedy);
};

/* Runs the command that argv[1] names and returns the exit code of the program. Answers and help
 * go to out, complaints to complaints, each starting with the program's name. "--help", "help",
 * "help COMMAND", "COMMAND --help" and "--version" are understood. When out cannot be written to
 * its end, be it a closed pipe (SIGPIPE and SIGXFSZ are ignored from then on), the code is
 * ERROR_OUTPUT. argv may be reordered. */
int command_main(const struct program *program, int argc, char **argv, FILE *out, FILE *complaints);

/* Writes the help text of the program, or of one command. */
void command_write_overview(FILE *out, const struct program *program, int width);
void command_write_help(FILE *out, const struct program *program, const struct command *command,
                        int width);

/* Writes "alidade-index build CATALOGUE --output FILE [options]" and a newline. */
void command_write_synopsis(FILE *out, const struct program *program, const struct command *command,
                            int width);

#endif
