#include "manual/completion.h"

#include <stdbool.h>
#include <string.h>

enum { LONGEST_NOTE = 70 };

/* What may follow, by the name that the help gives it. */
enum kind { NOTHING, FILES, FOLDERS, WORDS };

static bool is_end(const struct option_row *row)
{
    return !row->name && row->kind != OPTION_HEADING;
}

static enum kind kind_of_name(const char *name)
{
    static const struct {
        const char *name;
        enum kind kind;
    } names[] = {{"FILE", FILES},      {"FRAME", FILES}, {"INDEX", FILES},
                 {"CATALOGUE", FILES}, {"LOG", FILES},   {"DIR", FOLDERS}};
    name += name[0] == '[';
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (strncmp(name, names[i].name, strlen(names[i].name)) == 0) {
            return names[i].kind;
        }
    }
    return NOTHING;
}

static enum kind kind_of_value(const struct option_row *row)
{
    return row->kind == OPTION_CHOICE ? WORDS : kind_of_name(row->argument);
}

/* Whether a word must follow; what follows an optional value may be an operand. */
static bool has_value(const struct option_row *row)
{
    return row->kind != OPTION_HEADING && row->kind != OPTION_FLAG && row->kind != OPTION_OPTIONAL;
}

/* Whether some option of the command takes a value of that kind, and then those options. */
static bool write_bash_cases(FILE *out, const struct command *command, enum kind kind)
{
    bool any = false;
    for (const struct option_row *row = command->options; !is_end(row); row++) {
        if (!has_value(row) || kind_of_value(row) != kind) {
            continue;
        }
        fprintf(out, "%s%s:--%s", any ? "|" : "    ", command->name, row->name);
        if (row->letter) {
            fprintf(out, "|%s:-%c", command->name, row->letter);
        }
        any = true;
    }
    fputs(any ? ")\n" : "", out);
    return any;
}

static void write_words(FILE *out, const char *choice)
{
    for (const char *c = choice; *c; c++) {
        fputc(*c == '|' ? ' ' : *c, out);
    }
}

static void write_bash_values(FILE *out, const struct command *command)
{
    static const char *const answers[] = {
        [NOTHING] = "        return ;;\n",
        [FILES] = "        mapfile -t COMPREPLY < <(compgen -f -- \"$word\")\n        return ;;\n",
        [FOLDERS] =
            "        mapfile -t COMPREPLY < <(compgen -d -- \"$word\")\n        return ;;\n",
    };
    for (enum kind kind = NOTHING; kind <= FOLDERS; kind++) {
        if (write_bash_cases(out, command, kind)) {
            fputs(answers[kind], out);
        }
    }
    for (const struct option_row *row = command->options; !is_end(row); row++) {
        if (row->kind == OPTION_CHOICE) {
            fprintf(out, "    %s:--%s)\n        mapfile -t COMPREPLY < <(compgen -W '",
                    command->name, row->name);
            write_words(out, row->argument);
            fputs("' -- \"$word\")\n        return ;;\n", out);
        }
    }
}

static void write_option_names(FILE *out, const struct command *command)
{
    for (const struct option_row *row = command->options; !is_end(row); row++) {
        if (row->kind != OPTION_HEADING) {
            fprintf(out, "--%s ", row->name);
        }
    }
    fputs("--help", out);
}

static void write_command_names(FILE *out, const struct program *program)
{
    for (const struct command *const *c = program->commands; *c; c++) {
        fprintf(out, "%s%s", c == program->commands ? "" : " ", (*c)->name);
    }
}

/* The name of the program as part of a name of a shell function. */
static void write_identifier(FILE *out, const struct program *program)
{
    for (const char *c = program->name; *c; c++) {
        fputc(*c == '-' ? '_' : *c, out);
    }
}

static void write_bash_operands(FILE *out, const struct program *program)
{
    fputs("    case $command in\n    help) mapfile -t COMPREPLY < <(compgen -W '", out);
    write_command_names(out, program);
    fputs("' -- \"$word\") ;;\n", out);
    for (const struct command *const *c = program->commands; *c; c++) {
        enum kind kind = (*c)->operands ? kind_of_name((*c)->operands) : NOTHING;
        if (kind != NOTHING) {
            fprintf(out, "    %s) mapfile -t COMPREPLY < <(compgen -%c -- \"$word\") ;;\n",
                    (*c)->name, kind == FILES ? 'f' : 'd');
        }
    }
    fputs("    esac\n", out);
}

void completion_write_bash(FILE *out, const struct program *program)
{
    fprintf(out, "# bash completion of %s\n_", program->name);
    write_identifier(out, program);
    fputs("()\n{\n"
          "    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}\n"
          "    local command=${COMP_WORDS[1]}\n    COMPREPLY=()\n"
          "    if [ \"$COMP_CWORD\" -eq 1 ]; then\n"
          "        mapfile -t COMPREPLY < <(compgen -W '",
          out);
    write_command_names(out, program);
    fputs(" help --help --version' -- \"$word\")\n        return\n    fi\n"
          "    compopt -o filenames 2>/dev/null\n    case $command:$before in\n",
          out);
    for (const struct command *const *c = program->commands; *c; c++) {
        write_bash_values(out, *c);
    }
    fputs("    esac\n    case $command:$word in\n", out);
    for (const struct command *const *c = program->commands; *c; c++) {
        fprintf(out, "    %s:-*)\n        mapfile -t COMPREPLY < <(compgen -W '", (*c)->name);
        write_option_names(out, *c);
        fputs("' -- \"$word\")\n        return ;;\n", out);
    }
    fputs("    esac\n", out);
    write_bash_operands(out, program);
    fputs("}\ncomplete -F _", out);
    write_identifier(out, program);
    fprintf(out, " %s\n", program->name);
}

/* The help cut to what a list has room for, its quotes and brackets escaped for the shell. */
static void write_note(FILE *out, const char *help, const char *escaped)
{
    size_t length = strlen(help);
    for (const char *const *stop = (const char *const[]){"; ", ": ", " (", NULL}; *stop; stop++) {
        const char *at = strstr(help, *stop);
        length = at && (size_t)(at - help) < length ? (size_t)(at - help) : length;
    }
    if (length > LONGEST_NOTE) {
        for (length = LONGEST_NOTE; length > 0 && help[length] != ' '; length--) {
        }
    }
    for (size_t i = 0; i < length; i++) {
        if (help[i] == '\'') {
            fputs("'\\''", out);
            continue;
        }
        fputs(strchr(escaped, help[i]) ? "\\" : "", out);
        fputc(help[i], out);
    }
}

static void write_zsh_option(FILE *out, const struct option_row *row)
{
    fputs("            ", out);
    if (row->letter) {
        fprintf(out, "'(-%c --%s)'{-%c,--%s}'[", row->letter, row->name, row->letter, row->name);
    } else {
        fprintf(out, "'--%s[", row->name);
    }
    write_note(out, row->help, "[]:");
    fputc(']', out);
    if (has_value(row)) {
        static const char *const actions[] = {
            [NOTHING] = " ", [FILES] = "_files", [FOLDERS] = "_files -/"};
        enum kind kind = kind_of_value(row);
        fputs(":value:", out);
        if (kind == WORDS) {
            fputc('(', out);
            write_words(out, row->argument);
            fputc(')', out);
        } else {
            fputs(actions[kind], out);
        }
    }
    fputs("' \\\n", out);
}

static void write_zsh_command(FILE *out, const struct command *command)
{
    static const struct option_row help = {
        .name = "help", .letter = 'h', .help = "print a summary and exit"};
    fprintf(out, "    %s)\n        _arguments \\\n", command->name);
    for (const struct option_row *row = command->options; !is_end(row); row++) {
        if (row->kind != OPTION_HEADING) {
            write_zsh_option(out, row);
        }
    }
    write_zsh_option(out, &help);
    enum kind kind = command->operands ? kind_of_name(command->operands) : NOTHING;
    fprintf(out, "            '*:operand:%s' ;;\n",
            kind == FILES     ? "_files"
            : kind == FOLDERS ? "_files -/"
                              : " ");
}

void completion_write_zsh(FILE *out, const struct program *program)
{
    fprintf(out, "#compdef %s\nlocal -a commands\ncommands=(\n", program->name);
    for (const struct command *const *c = program->commands; *c; c++) {
        fprintf(out, "    '%s:", (*c)->name);
        write_note(out, (*c)->summary, "");
        fputs("'\n", out);
    }
    fputs("    'help:explain a command'\n)\nif ((CURRENT == 2)); then\n"
          "    _describe command commands\n    return\nfi\n"
          "shift words\n((CURRENT--))\ncase $words[1] in\n"
          "    help) _describe command commands ;;\n",
          out);
    for (const struct command *const *c = program->commands; *c; c++) {
        write_zsh_command(out, *c);
    }
    fputs("esac\n", out);
}

static void write_fish_option(FILE *out, const struct program *program,
                              const struct command *command, const struct option_row *row)
{
    fprintf(out, "complete -c %s -n '__fish_seen_subcommand_from %s' -l %s", program->name,
            command->name, row->name);
    if (row->letter) {
        fprintf(out, " -s %c", row->letter);
    }
    if (has_value(row)) {
        static const char *const actions[] = {[NOTHING] = " -x",
                                              [FILES] = " -r -F",
                                              [FOLDERS] = " -x -a '(__fish_complete_directories)'"};
        enum kind kind = kind_of_value(row);
        if (kind == WORDS) {
            fputs(" -x -a '", out);
            write_words(out, row->argument);
            fputc('\'', out);
        } else {
            fputs(actions[kind], out);
        }
    }
    fputs(" -d '", out);
    write_note(out, row->help, "");
    fputs("'\n", out);
}

void completion_write_fish(FILE *out, const struct program *program)
{
    static const struct option_row help = {
        .name = "help", .letter = 'h', .help = "print a summary and exit"};
    fprintf(out, "# fish completion of %s\n", program->name);
    for (const struct command *const *c = program->commands; *c; c++) {
        fprintf(out, "complete -c %s -f -n __fish_use_subcommand -a %s -d '", program->name,
                (*c)->name);
        write_note(out, (*c)->summary, "");
        fputs("'\n", out);
        for (const struct option_row *row = (*c)->options; !is_end(row); row++) {
            if (row->kind != OPTION_HEADING) {
                write_fish_option(out, program, *c, row);
            }
        }
        write_fish_option(out, program, *c, &help);
    }
    fprintf(out, "complete -c %s -f -n __fish_use_subcommand -l version -d 'print the version'\n",
            program->name);
    fprintf(out, "complete -c %s -f -n __fish_use_subcommand -a help -d 'explain a command'\n",
            program->name);
}
