#include "cli/stack_options.h"

#include <string.h>
#include <strings.h>

static bool ends_in(const char *name, const char *ending)
{
    size_t length = strlen(name), tail = strlen(ending);
    return length > tail && strcasecmp(name + length - tail, ending) == 0;
}

bool stack_option_read(void *member, const char *text)
{
    struct stack_wish *wish = member;
    if (ends_in(text, ".png")) {
        wish->png = text;
    } else if (ends_in(text, ".fits") || ends_in(text, ".fit")) {
        wish->fits = text;
    } else {
        return false;
    }
    return true;
}

int stack_option_claim(struct outputs *outputs, const struct stack_wish *wish, struct error *err)
{
    const unsigned own = FILE_KIND_BIT(FILE_DRAWING);
    const struct output png = {wish->png, .option = "--stack", .may_replace = own};
    const struct output fits = {wish->fits, .option = "--stack", .may_replace = own};
    int code = outputs_add(outputs, &png, err);
    return code ? code : outputs_add(outputs, &fits, err);
}

void stack_report_text(FILE *out, const struct emergence *e, int columns)
{
    char text[EMERGENCE_TEXT];
    emergence_write(text, sizeof text, e);
    fputs("  ", out);
    options_write_wrapped(out, text, 2, 2, columns);
    emergence_write_broken(text, sizeof text, e);
    if (text[0]) {
        fputs("  ", out);
        options_write_wrapped(out, text, 2, 2, columns);
    }
    emergence_write_frames(text, sizeof text, e);
    fputs("  ", out);
    options_write_wrapped(out, text, 2, 2, columns);
}
