#include "base/command.h"

#include "base/text.h"
#include "base/utf8.h"

#include <assert.h>
#include <errno.h>
#include <signal.h>
#include <stdalign.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { PLAIN_WIDTH = 80, LEAST_WIDTH = 32, MOST_WIDTH = 100 };

static int help_width(FILE *out)
{
    struct winsize size;
    int file = fileno(out);
    if (file < 0 || !isatty(file) || ioctl(file, TIOCGWINSZ, &size) != 0 || size.ws_col == 0) {
        return PLAIN_WIDTH;
    }
    int width = size.ws_col;
    return width < LEAST_WIDTH ? LEAST_WIDTH : width > MOST_WIDTH ? MOST_WIDTH : width;
}

static const struct command *find_command(const struct program *program, const char *name)
{
    for (const struct command *const *c = program->commands; *c; c++) {
        if (strcmp((*c)->name, name) == 0) {
            return *c;
        }
    }
    return NULL;
}

static const char *nearest_command(const struct program *program, const char *typed)
{
    const char *nearest = NULL;
    for (const struct command *const *c = program->commands; *c; c++) {
        const char *name = (*c)->name;
        if (options_is_near(typed, name) &&
            (!nearest || options_distance(typed, name) < options_distance(typed, nearest))) {
            nearest = name;
        }
    }
    return nearest;
}

static bool has_free_options(const struct option_row *rows)
{
    for (const struct option_row *row = rows; row->name || row->kind == OPTION_HEADING; row++) {
        if (row->kind != OPTION_HEADING && !row->required) {
            return true;
        }
    }
    return false;
}

void command_write_synopsis(FILE *out, const struct program *program, const struct command *command,
                            int width)
{
    char text[500];
    snprintf(text, sizeof text, "%s %s", program->name, command->name);
    if (command->operands) {
        text_append(text, sizeof text, " %s", command->operands);
    }
    for (const struct option_row *row = command->options; row->name || row->kind == OPTION_HEADING;
         row++) {
        if (row->required) {
            text_append(text, sizeof text, " --%s %s", row->name, row->argument);
        }
    }
    if (has_free_options(command->options)) {
        text_append(text, sizeof text, " [options]");
    }
    options_write_wrapped(out, text, 0, 8, width);
}

static void write_exits(FILE *out, const struct program *program, int width)
{
    char text[1000] = "Exit codes: ";
    for (const struct exit_row *row = program->exits; row->meaning; row++) {
        text_append(text, sizeof text, "%s%d %s", row == program->exits ? "" : "; ", row->code,
                    row->meaning);
    }
    text_append(text, sizeof text, ".%s%s", program->epilogue ? " " : "",
                program->epilogue ? program->epilogue : "");
    fprintf(out, "\n");
    options_write_wrapped(out, text, 0, 0, width);
}

void command_write_help(FILE *out, const struct program *program, const struct command *command,
                        int width)
{
    fprintf(out, "Usage: ");
    command_write_synopsis(out, program, command, width - 7);
    fprintf(out, "\n");
    options_write_wrapped(out, command->summary, 0, 0, width);
    if (command->about) {
        fprintf(out, "\n");
        options_write_wrapped(out, command->about, 0, 0, width);
    }
    fprintf(out, "\n");
    if (command->options->kind != OPTION_HEADING) {
        fprintf(out, "Options:\n");
    }
    options_write_help(out, command->options, width);
    write_exits(out, program, width);
}

void command_write_overview(FILE *out, const struct program *program, int width)
{
    fprintf(out, "Usage: %s COMMAND ...\n\n", program->name);
    options_write_wrapped(out, program->about, 0, 0, width);
    fprintf(out, "\nCommands:\n");
    for (const struct command *const *c = program->commands; *c; c++) {
        int used = fprintf(out, "  %-12s", (*c)->name);
        options_write_wrapped(out, (*c)->summary, used, 14, width);
    }
    char more[200];
    snprintf(more, sizeof more,
             "\n\"%s COMMAND --help\" explains one of them; \"%s --version\" says which "
             "version this is.",
             program->name, program->name);
    options_write_wrapped(out, more, 0, 0, width);
    write_exits(out, program, width);
}

static int check_operands(const struct command *command, const struct option_operands *rest,
                          struct error *err)
{
    if (rest->count < command->least) {
        return error_set(err, ERROR_USAGE, "%s is missing", command->operands);
    }
    if (command->most != COMMAND_ANY_NUMBER && rest->count > command->most) {
        return error_set(err, ERROR_USAGE, "\"%.80s\" is one too many: expected %s",
                         rest->item[command->most],
                         command->operands ? command->operands : "options only");
    }
    return 0;
}

static int run_command(const struct program *program, const struct command *command, int argc,
                       char **argv, FILE *out, struct error *err)
{
    alignas(max_align_t) unsigned char settings[COMMAND_MAX_SETTINGS] = {0};
    assert(command->settings_size <= sizeof settings);
    if (command->defaults) {
        memcpy(settings, command->defaults, command->settings_size);
    }
    struct option_operands rest;
    int code = options_parse(settings, &rest, command->options, argc, argv, err);
    if (!code && rest.help) {
        command_write_help(out, program, command, help_width(out));
        return 0;
    }
    if (!code) {
        code = check_operands(command, &rest, err);
    }
    return code ? code : command->run(settings, rest.count, rest.item, out, err);
}

static int refuse_command(const struct program *program, const char *typed, struct error *err)
{
    const char *kind = typed[0] == '-' ? "option" : "command";
    const char *nearest = nearest_command(program, typed);
    if (nearest) {
        return error_set(err, ERROR_USAGE, "unknown %s %.80s; did you mean %s?", kind, typed,
                         nearest);
    }
    return error_set(err, ERROR_USAGE, "unknown %s %.80s", kind, typed);
}

/* What the program itself answers, without a command. */
static int answer_for_program(const struct program *program, int argc, char **argv, FILE *out,
                              struct error *err)
{
    if (argc < 2) {
        return error_set(err, ERROR_USAGE, "a command is missing");
    }
    if (strcmp(argv[1], "--version") == 0) {
        fprintf(out, "%s %s\n", program->name, program->version);
        return 0;
    }
    bool help = strcmp(argv[1], "help") == 0;
    if (!help && strcmp(argv[1], "--help") != 0 && strcmp(argv[1], "-h") != 0) {
        return refuse_command(program, argv[1], err);
    }
    if (help && argc > 2) {
        const struct command *command = find_command(program, argv[2]);
        if (!command) {
            return refuse_command(program, argv[2], err);
        }
        command_write_help(out, program, command, help_width(out));
        return 0;
    }
    command_write_overview(out, program, help_width(out));
    return 0;
}

/* Text that is still in the buffer can fail too, so it is pushed out before the exit code is
 * known. */
static int check_out(FILE *out, int code, FILE *complaints, const char *name)
{
    errno = 0;
    if (fflush(out) == 0 && !ferror(out)) {
        return code;
    }
    fprintf(complaints, "%s: cannot write the answer: %s\n", name,
            errno ? strerror(errno) : "an earlier write failed");
    return ERROR_OUTPUT;
}

int command_main(const struct program *program, int argc, char **argv, FILE *out, FILE *complaints)
{
    /* A closed pipe and a file beyond its limit are to be seen as failed writes. */
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
    struct error err = {0};
    const struct command *command = argc > 1 ? find_command(program, argv[1]) : NULL;
    char name[100];
    snprintf(name, sizeof name, "%s%s%s", program->name, command ? " " : "",
             command ? command->name : "");
    int code = command ? run_command(program, command, argc - 1, argv + 1, out, &err)
                       : answer_for_program(program, argc, argv, out, &err);
    fflush(out); /* so that answer and complaint come in order on one terminal */
    if (code && err.text[0]) {
        fprintf(complaints, "%s: ", name);
        utf8_write_shown(complaints, err.text);
        fprintf(complaints, "%s\n", program->remedy ? program->remedy(err.remedy) : "");
    }
    if (code == ERROR_USAGE) {
        fprintf(complaints, "\"%s --help\" explains.\n", name);
    }
    if (code == ERROR_MEMORY) {
        code = ERROR_INPUT;
    }
    return check_out(out, code, complaints, name);
}
