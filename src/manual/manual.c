#include "manual/manual.h"

#include "base/schema_print.h"
#include "manual/completion.h"
#include "manual/manual_page.h"

#include <stdio.h>
#include <string.h>

int manual_main(const struct program *program, const struct schema *const *tables, int argc,
                char **argv)
{
    static const struct {
        const char *shell;
        void (*write)(FILE *out, const struct program *program);
    } shells[] = {{"bash", completion_write_bash},
                  {"zsh", completion_write_zsh},
                  {"fish", completion_write_fish}};
    struct error err = {.code = ERROR_USAGE};
    if (argc == 3 && strcmp(argv[1], "page") == 0) {
        err.code = manual_page_write(stdout, stdin, "source", program, tables, argv[2], &err);
    }
    if (argc == 2 && strcmp(argv[1], "schema") == 0) {
        err.code = schema_print_json(stdout, tables, &err);
    }
    for (size_t i = 0; argc == 2 && i < sizeof shells / sizeof *shells; i++) {
        if (strcmp(argv[1], shells[i].shell) == 0) {
            shells[i].write(stdout, program);
            err.code = 0;
        }
    }
    if (err.code) {
        fprintf(stderr, "%s\n",
                err.text[0] ? err.text : "usage: manual page DATE|schema|bash|zsh|fish");
        return err.code;
    }
    return fflush(stdout) == 0 && !ferror(stdout) ? 0 : ERROR_OUTPUT;
}
