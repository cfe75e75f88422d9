#include "manual/manual_page.h"

#include "manual/json_keys.h"
#include "manual/roff.h"
#include "rig/rig.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>

enum { LONGEST_LINE = 400 };

struct page {
    FILE *out;
    const struct program *program;
    const struct schema *const *tables;
    const char *date;
};

static bool is_end(const struct option_row *row)
{
    return !row->name && row->kind != OPTION_HEADING;
}

/* Sentences of the help begin large and end with a stop; a purpose does neither. */
static void write_purpose(FILE *out, const char *summary)
{
    size_t length = strlen(summary);
    fprintf(out, ".Nd %c", tolower((unsigned char)summary[0]));
    roff_write_words(out, summary + 1, length - 1 - (summary[length - 1] == '.'));
    fputc('\n', out);
}

static void write_title(const struct page *page, const char *name, const char *section,
                        const char *purpose)
{
    fprintf(page->out, ".Dd %s\n.Dt ", page->date);
    for (const char *c = name; *c; c++) {
        fputc(toupper((unsigned char)*c), page->out);
    }
    fprintf(page->out, " %s\n.Os Alidade %s\n.Sh NAME\n.Nm %s\n", section, page->program->version,
            name);
    write_purpose(page->out, purpose);
}

static void write_command_title(const struct page *page, const struct command *command)
{
    char name[80];
    snprintf(name, sizeof name, "%s%s%s", page->program->name, command ? "-" : "",
             command ? command->name : "");
    write_title(page, name, "1", command ? command->summary : page->program->summary);
}

static void write_argument(FILE *out, const struct option_row *row)
{
    if (row->kind != OPTION_FLAG) {
        fputs(row->kind == OPTION_CHOICE ? " Cm " : " Ar ", out);
        roff_write_words(out, row->argument, strlen(row->argument));
    }
}

static void write_synopsis(const struct page *page, const struct command *command)
{
    fprintf(page->out, ".Nm %s\n", page->program->name);
    if (!command) {
        fputs(".Ar COMMAND\n.Op Ar ARGUMENT ...\n", page->out);
        fprintf(page->out, ".Nm %s\n.Cm help\n.Op Ar COMMAND\n.Nm %s\n.Fl -version\n",
                page->program->name, page->program->name);
        return;
    }
    fprintf(page->out, ".Cm %s\n", command->name);
    const char *operands = command->operands;
    bool optional = operands && operands[0] == '[';
    if (operands) {
        size_t length = strcspn(operands + optional, ".]");
        fprintf(page->out, "%s", optional ? ".Op Ar " : ".Ar ");
        roff_write_words(page->out, operands + optional, length);
        fputs(strstr(operands, "...") ? " ...\n" : "\n", page->out);
    }
    bool more = false;
    for (const struct option_row *row = command->options; !is_end(row); row++) {
        more = more || (row->kind != OPTION_HEADING && !row->required);
        if (row->required) {
            fprintf(page->out, ".Fl -%s", row->name);
            write_argument(page->out, row);
            fputc('\n', page->out);
        }
    }
    fputs(more ? ".Op Ar options\n" : "", page->out);
}

static void write_about(const struct page *page, const struct command *command)
{
    const char *about = command ? command->about : page->program->about;
    roff_write_text(page->out, about ? about : command->summary);
}

static void write_option(FILE *out, const struct option_row *row)
{
    fputs(".It ", out);
    if (row->letter) {
        fprintf(out, "Fl %c , ", row->letter);
    }
    fprintf(out, "Fl -%s", row->name);
    write_argument(out, row);
    fputc('\n', out);
    roff_write_text(out, row->help);
}

static void write_options(const struct page *page, const struct command *command)
{
    static const struct option_row help = {
        .name = "help", .letter = 'h', .help = "print a summary of all this and exit"};
    bool open = false;
    for (const struct option_row *row = command->options; !is_end(row); row++) {
        if (row->kind == OPTION_HEADING) {
            fputs(open ? ".El\n" : "", page->out);
            fputs(".Ss ", page->out);
            roff_write_words(page->out, row->help, strlen(row->help));
            fputc('\n', page->out);
            open = false;
            continue;
        }
        if (!open) {
            fputs(".Bl -tag -width Ds\n", page->out);
            open = true;
        }
        write_option(page->out, row);
    }
    fputs(open ? "" : ".Bl -tag -width Ds\n", page->out);
    write_option(page->out, &help);
    fputs(".El\n", page->out);
}

static void write_commands(const struct page *page)
{
    fputs(".Bl -tag -width Ds\n", page->out);
    for (const struct command *const *c = page->program->commands; *c; c++) {
        fprintf(page->out, ".It Xr %s-%s 1\n", page->program->name, (*c)->name);
        roff_write_text(page->out, (*c)->summary);
    }
    fputs(".El\n", page->out);
}

static void write_exits(const struct page *page)
{
    fputs(".Bl -tag -width Ds\n", page->out);
    for (const struct exit_row *row = page->program->exits; row->meaning; row++) {
        fprintf(page->out, ".It %d\n", row->code);
        roff_write_text(page->out, row->meaning);
    }
    fputs(".El\n", page->out);
    if (page->program->epilogue) {
        fputs(".Pp\n", page->out);
        roff_write_text(page->out, page->program->epilogue);
    }
}

static bool write_keys(const struct page *page, const char *section)
{
    struct rig_key_words words;
    bool any = false;
    for (int i = 0; rig_key_words(&words, i); i++) {
        if (strcmp(words.section, section) == 0) {
            fputs(any ? "" : ".Bl -tag -width Ds\n", page->out);
            any = true;
            fputs(".It Ic ", page->out);
            roff_write_words(page->out, words.key, strlen(words.key));
            fputc('\n', page->out);
            roff_write_text(page->out, words.meaning);
            fputs("Expected:\n", page->out);
            roff_write_text(page->out, words.expected);
        }
    }
    fputs(any ? ".El\n" : "", page->out);
    return any;
}

static bool find_command(const struct command **command, const struct program *program,
                         const char *name)
{
    *command = NULL;
    for (const struct command *const *c = program->commands; *c && !*command; c++) {
        *command = strcmp((*c)->name, name) == 0 ? *c : NULL;
    }
    return *command || strcmp(name, "-") == 0;
}

/* A line behind its '@'; false if it asks for nothing that there is. */
static bool write_known(const struct page *page, const char *line)
{
    char verb[40] = "", name[40] = "", section[10] = "";
    int rest = 0;
    const struct command *command;
    int parts = sscanf(line, "%39s %39s %9s %n", verb, name, section, &rest);
    if (strcmp(verb, "title") == 0 && parts == 3) {
        write_title(page, name, section, line + rest);
        return line[rest] != '\0';
    }
    if (strcmp(verb, "commands") == 0) {
        write_commands(page);
        return parts == 1;
    }
    if (strcmp(verb, "exits") == 0) {
        write_exits(page);
        return parts == 1;
    }
    if (strcmp(verb, "json") == 0) {
        return json_keys_write(page->out, page->tables, name);
    }
    if (strcmp(verb, "keys") == 0) {
        return write_keys(page, name);
    }
    static const struct {
        const char *verb;
        void (*write)(const struct page *page, const struct command *command);
        bool whole_program; /* knows what "-" is */
    } writers[] = {{"title", write_command_title, true},
                   {"synopsis", write_synopsis, true},
                   {"about", write_about, true},
                   {"options", write_options, false}};
    if (parts != 2 || !find_command(&command, page->program, name)) {
        return false;
    }
    for (size_t i = 0; i < sizeof writers / sizeof *writers; i++) {
        if (strcmp(verb, writers[i].verb) == 0 && (command || writers[i].whole_program)) {
            writers[i].write(page, command);
            return true;
        }
    }
    return false;
}

int manual_page_write(FILE *out, FILE *source, const char *source_name,
                      const struct program *program, const struct schema *const *tables,
                      const char *date, struct error *err)
{
    struct page page = {out, program, tables, date};
    char line[LONGEST_LINE];
    for (long number = 1; fgets(line, sizeof line, source); number++) {
        char *end = strchr(line, '\n');
        if (!end) {
            return error_set(err, ERROR_INPUT, "%s: line %ld: expected at most %d bytes",
                             source_name, number, LONGEST_LINE - 2);
        }
        *end = '\0';
        if (line[0] != '@') {
            roff_write_source(out, line);
        } else if (!write_known(&page, line + 1)) {
            return error_set(err, ERROR_INPUT, "%s: line %ld: nothing is known by \"%s\"",
                             source_name, number, line);
        }
    }
    return ferror(source) ? error_set(err, ERROR_INPUT, "%s: cannot be read", source_name) : 0;
}
