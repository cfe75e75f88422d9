#include "jobs/job_review.h"

#include "jobs/night_clock.h"
#include "jobs/review_measure.h"
#include "night/night_log.h"
#include "night/night_unite.h"

#include <stdio.h>
#include <string.h>

/* Beside a file that was named itself, else in the folder. */
static void name_log(char *log, size_t size, const struct review_files *files, const char *first)
{
    const char *slash = strrchr(first, '/');
    if (files->count > 0 && strcmp(files->name[0], first) == 0) {
        snprintf(log, size, "%.*s" NIGHT_LOG_NAME, slash ? (int)(slash - first) + 1 : 0, first);
    } else {
        snprintf(log, size, "%s/" NIGHT_LOG_NAME, first);
    }
}

int job_review_find(struct review_files *files, char *log, size_t size, char **name, int names,
                    struct error *err)
{
    int code = 0;
    for (int i = 0; !code && i < names; i++) {
        code = review_files_add(files, name[i], err);
    }
    review_files_settle(files);
    name_log(log, size, files, name[0]);
    if (!code && files->count == 0) {
        return error_set(err, ERROR_INPUT, "%s: holds no frame", name[0]);
    }
    return code;
}

static int judge(struct job_review_result *result, const struct job_review_wish *wish,
                 struct error *err)
{
    int code = review_make(&result->review, &result->list, wish->target, &wish->rules, err);
    result->review.plan = wish->plan;
    return code;
}

int job_review(struct job_review_result *result, const struct job_engine *engine,
               const struct review_files *files, const struct job_review_wish *wish,
               const struct job_control *control, struct error *err)
{
    struct solve_wish solve = wish->solve;
    const struct review_work work = {.engine = engine,
                                     .solve = &solve,
                                     .files = files,
                                     .log = wish->log,
                                     .log_wanted = wish->log_wanted,
                                     .threads = wish->threads,
                                     .control = control,
                                     .trouble = wish->trouble,
                                     .context = wish->context};
    memset(result, 0, sizeof *result);
    solve.want_health = true;
    solve.accepted_s = wish->plan ? wish->plan->exposure_s : 0;
    int code = review_measure(&result->list, &result->measured, &work, err);
    if (!code && job_is_cancelled(control)) {
        code = error_set(err, ERROR_CANCELLED, "%s: cancelled", files->name[0]);
    }
    code = code ? code : judge(result, wish, err);
    if (!code) {
        night_clock_doubt(&result->review.clock_doubt, &result->list, &engine->rig.rig, wish->plan);
    }
    return code;
}

static void tell_broken(const struct job_review_wish *wish, const char *name,
                        const struct night_lines *lines)
{
    struct error err = {0};
    if (lines->broken && wish->trouble) {
        error_set(&err, ERROR_INPUT, "%s: %ld line%s could not be read, the first is line %ld",
                  name, lines->broken, lines->broken == 1 ? "" : "s", lines->first_broken);
        wish->trouble(wish->context, &err);
    }
}

static int collect(struct night_list *list, char **name, int names,
                   const struct job_review_wish *wish, struct error *err)
{
    int code = 0;
    for (int i = 0; !code && i < names; i++) {
        struct night_lines lines;
        int first = list->count;
        code = night_list_read(list, &lines, name[i], err);
        code = code ? code : night_unite_names(list, first, err);
        if (!code) {
            tell_broken(wish, name[i], &lines);
        }
    }
    code = code ? code : night_unite_frames(list, err);
    if (!code && list->count == 0) {
        return error_set(err, ERROR_INPUT, "%s: holds no line of a frame", name[0]);
    }
    return code;
}

int job_review_lines(struct job_review_result *result, char **name, int names,
                     const struct job_review_wish *wish, struct error *err)
{
    memset(result, 0, sizeof *result);
    int code = collect(&result->list, name, names, wish, err);
    return code ? code : judge(result, wish, err);
}

void job_review_free(struct job_review_result *result)
{
    review_free(&result->review);
    night_list_free(&result->list);
    memset(result, 0, sizeof *result);
}
