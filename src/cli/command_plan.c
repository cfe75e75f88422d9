#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/index_place.h"
#include "cli/open_engine.h"
#include "cli/plan_options.h"
#include "cli/plan_report.h"
#include "plan/night_plan.h"

#include <string.h>
#include <strings.h>

static bool has_suffix(const char *name, const char *suffix)
{
    size_t length = strlen(name), tail = strlen(suffix);
    return length > tail && strcasecmp(name + length - tail, suffix) == 0;
}

static int check_output(const struct plan_options *given, struct error *err)
{
    const struct output output = {given->card, "--card",
                                  .may_replace = FILE_KIND_BIT(FILE_DRAWING)};
    const struct output plan = {.name = given->save, .option = "--save"};
    struct outputs outputs = {.replace = given->replace};
    int code = claims_add_usual(&outputs, NULL, given->catalogs, &given->rig, err);
    code = code ? code : outputs_add(&outputs, &output, err);
    code = code ? code : outputs_add(&outputs, &plan, err);
    return claims_settle(&outputs, code, err);
}

static int check_card(const struct plan_options *given, struct error *err)
{
    if (given->card && !given->wish.target) {
        return error_set(err, ERROR_USAGE, "--card needs --target: a page is about one of them");
    }
    if (given->card && !has_suffix(given->card, ".pdf") && !has_suffix(given->card, ".png")) {
        return error_set(err, ERROR_USAGE,
                         "--card: expected a name that ends with .pdf or .png, "
                         "not \"%.200s\"",
                         given->card);
    }
    if (given->wish.with && !given->wish.target) {
        return error_set(err, ERROR_USAGE, "--with needs --target: what comes first");
    }
    if (given->red && !given->card) {
        return error_set(err, ERROR_USAGE, "--red needs --card");
    }
    if (given->save && !given->wish.target) {
        return error_set(err, ERROR_USAGE, "--save needs --target: a night is for one of them");
    }
    return given->card || given->save ? check_output(given, err) : 0;
}

/* The tables: with the figures of constellations where a card shows them. */
static int open_tables(struct job_engine *engine, const struct plan_options *given,
                       struct error *err)
{
    char folder[4096];
    int code = open_engine_rig(engine, &given->rig, given->catalogs, err);
    code = code ? code : catalogs_place(folder, sizeof folder, given->catalogs, err);
    if (code) {
        return code;
    }
    return given->card ? job_engine_add_atlas(engine, folder, err)
                       : job_engine_add_objects(engine, folder, err);
}

static int answer_night(FILE *out, const struct job_plan_result *result,
                        const struct plan_options *given, struct error *err)
{
    int code = 0;
    if (given->json) {
        code = plan_json_night(out, &result->sheet, &result->plan, err);
    } else {
        plan_report_night(out, &result->sheet, &result->plan);
    }
    return code ? code : result->plan.count ? 0 : ERROR_NO;
}

static int write_card(FILE *out, const struct job_plan_result *result,
                      const struct job_engine *engine, const struct plan_options *given,
                      struct error *err)
{
    const struct file_target target = {.name = given->card};
    enum page_format format = has_suffix(given->card, ".pdf") ? PAGE_PDF : PAGE_PNG;
    if (result->item.window.span.any) {
        return job_plan_card(result, engine, format, given->red, &target, err);
    }
    if (!given->json) {
        fputs("  card      not written: there is nothing to shoot\n", out);
    }
    return 0;
}

static int save_plan(const struct job_plan_result *result, const char *name, struct error *err)
{
    struct night_plan night;
    night_plan_make(&night, &result->sheet);
    night_plan_note_hours(&night, &result->sheet);
    return night_plan_write(name, &night, err);
}

static int answer_target(FILE *out, const struct job_plan_result *result,
                         const struct job_engine *engine, const struct plan_options *given,
                         struct error *err)
{
    int code = 0;
    if (given->json) {
        code = plan_json_target(out, &result->sheet, err);
    } else {
        plan_report_target(out, &result->sheet);
    }
    code = code || !given->card ? code : write_card(out, result, engine, given, err);
    code = code || !given->save ? code : save_plan(result, given->save, err);
    return code ? code : result->item.window.span.any ? 0 : ERROR_NO;
}

static int run(const void *options, int operands, char **operand, FILE *out, struct error *err)
{
    const struct plan_options *given = options;
    const struct job_plan_wish wish = plan_options_wish(given);
    struct job_engine engine = {0};
    struct job_plan_result result = {0};
    (void)operands;
    (void)operand;
    int code = check_card(given, err);
    code = code ? code : open_tables(&engine, given, err);
    code = code ? code : job_plan(&result, &engine, &wish, NULL, err);
    if (!code) {
        code = wish.target ? answer_target(out, &result, &engine, given, err)
                           : answer_night(out, &result, given, err);
    }
    job_plan_free(&result);
    job_engine_close(&engine);
    return code;
}

const struct command command_plan = {
    .name = "plan",
    .summary = "Propose what to shoot in a night with a lens, and how.",
    .operands = NULL,
    .least = 0,
    .most = 0,
    .about =
        "For a lens, a place and a date: when it is dark, what the Moon does, and which objects "
        "are worth it, best first, with what else fits into the same frame. With --target, one of "
        "them in full: how long, how many frames, when to re-centre, how to find it from a star "
        "that the eye can see.\n\nLens and place are taken from the settings file where they are "
        "not given. Example: alidade plan --focal 250 --place 50.1,10.2",
    .options = plan_option_rows,
    .defaults = &plan_option_defaults,
    .settings_size = sizeof(struct plan_options),
    .run = run,
};
