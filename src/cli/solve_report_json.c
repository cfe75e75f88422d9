/* The JSON form of a solve. */
#include "cli/solve_report.h"

#include "base/utf8.h"

#include "night/night_frame.h"

#include <string.h>

/* The sentence without the name of the file in front, which has its own key. */
static const char *without_name(const char *sentence, const char *name)
{
    size_t length = strlen(name);
    bool named = strncmp(sentence, name, length) == 0 && strncmp(sentence + length, ": ", 2) == 0;
    return named ? sentence + length + 2 : sentence;
}

void solve_report_open(struct json *json, const struct schema *schema,
                       const struct solved_frame *solved, const struct error *err)
{
    schema_begin(json, schema);
    schema_put_text(json, "frame", solved->name);
    schema_put_format(json);
    schema_put_bool(json, "solved", !err && solved->solution.solved);
    if (err) {
        schema_put_text(json, "why", without_name(err->text, solved->name));
        schema_put_word(json, "unread", (int)err->cause);
    } else if (!solved->solution.solved) {
        schema_put_text(json, "why", solved->solution.why);
    }
}

int solve_report_unread(FILE *out, const struct solved_frame *solved, bool as_json,
                        const struct error *why)
{
    if (!as_json) {
        utf8_write_shown(out, solved->name);
        fputs(": could not be read\n", out);
        return 0;
    }
    struct json json = {0};
    solve_report_open(&json, &night_frame_schema, solved, why);
    return schema_end_line(&json, out, NULL);
}

void solve_report_add(struct json *json, const struct solved_frame *solved)
{
    struct night_frame note;
    if (solved_frame_note(&note, solved, NULL, NULL, NULL)) {
        json->failed = true;
        return;
    }
    schema_put_rows(json, &night_frame_details_schema, &note);
    night_frame_free(&note);
}

int solve_report_json(FILE *out, const struct solved_frame *solved, struct error *err)
{
    struct json json = {0};
    solve_report_open(&json, &night_frame_schema, solved, NULL);
    solve_report_add(&json, solved);
    return schema_end_line(&json, out, err);
}

int solve_report_unsolved(FILE *out, const struct solved_frame *solved, bool as_json,
                          struct error *err)
{
    if (as_json) {
        return solve_report_json(out, solved, err);
    }
    solve_report_failure(out, solved);
    return ERROR_NO;
}
