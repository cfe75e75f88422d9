#define _XOPEN_SOURCE 700 /* stat */

#include "base/outputs.h"

#include "base/file.h"
#include "base/file_identity.h"
#include "base/path.h"
#include "base/text.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* One file of a run. */
struct output_claim {
    struct file_identity identity;
    const char *what;     /* of an input; NULL for an output */
    char *shown;          /* an input's own name, owned; NULL for an output */
    struct output output; /* of an output */
};

static const char *const kind_words[] = {
    [FILE_OTHER] = "",
    [FILE_PICTURE] = "is a picture",
    [FILE_FITS] = "is a FITS file with data",
    [FILE_DRAWING] = "is a picture",
    [FILE_LOG] = "is a log of frames",
    [FILE_SETTINGS] = "is a settings file",
    [FILE_INDEX] = "is an index of stars",
    [FILE_SEALED] = "cannot be read, so that it may be a picture",
};

static int add(struct outputs *outputs, struct output_claim claim, const char *name,
               struct error *err)
{
    if (outputs->count == outputs->capacity) {
        int capacity = 2 * outputs->capacity + 16;
        struct output_claim *more =
            realloc(outputs->claim, (size_t)capacity * sizeof *outputs->claim);
        if (!more) {
            free(claim.shown);
            return error_memory(err);
        }
        outputs->claim = more;
        outputs->capacity = capacity;
    }
    if (!file_identity_find(&claim.identity, name)) {
        free(claim.shown);
        return error_memory(err);
    }
    outputs->claim[outputs->count++] = claim;
    return 0;
}

int outputs_add_input(struct outputs *outputs, const char *name, const char *what,
                      struct error *err)
{
    if (!name || !*name) {
        return 0;
    }
    struct output_claim claim = {.what = what, .shown = text_copy(name)};
    return claim.shown ? add(outputs, claim, name, err) : error_memory(err);
}

int outputs_add_folder(struct outputs *outputs, const char *folder, const char *what,
                       bool (*wanted)(const char *name), struct error *err)
{
    DIR *listed = opendir(folder);
    int code = 0;
    if (!listed) {
        return 0; /* whoever reads it says so */
    }
    for (struct dirent *entry; !code && (entry = readdir(listed)) != NULL;) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0 ||
            (wanted && !wanted(entry->d_name))) {
            continue;
        }
        char *name = path_join(folder, entry->d_name);
        code = name ? outputs_add_input(outputs, name, what, err) : error_memory(err);
        free(name);
    }
    closedir(listed);
    return code;
}

int outputs_add(struct outputs *outputs, const struct output *output, struct error *err)
{
    struct output_claim claim = {.output = *output};
    return output->name ? add(outputs, claim, output->name, err) : 0;
}

static bool is_plain(const char *name)
{
    struct stat info;
    return stat(name, &info) == 0 && S_ISREG(info.st_mode);
}

static bool is_there(const char *name)
{
    struct stat info;
    return stat(name, &info) == 0;
}

/* Several outputs may go to one device or pipe; they are written one after the other. */
static bool can_harm(const struct output_claim *claim)
{
    return is_plain(claim->output.name) || !is_there(claim->output.name);
}

static int refuse_input(const struct output *output, const struct output_claim *input,
                        struct error *err)
{
    const char *advice = output->advice ? output->advice : "";
    const char *verb = output->is_added_to ? "write into" : "overwrite";
    if (strcmp(output->name, input->shown) == 0) {
        return error_set(err, ERROR_USAGE, "%s: %s would %s %s%s", output->name, output->option,
                         verb, input->what, advice);
    }
    return error_set(err, ERROR_USAGE, "%s: %s would %s %s, %s%s", output->name, output->option,
                     verb, input->what, input->shown, advice);
}

/* Against all inputs, and the outputs before it. */
static int check_others(const struct outputs *outputs, int which, struct error *err)
{
    const struct output_claim *mine = &outputs->claim[which];
    for (int i = 0; i < outputs->count; i++) {
        const struct output_claim *other = &outputs->claim[i];
        if (i == which || !file_identity_same(&mine->identity, &other->identity)) {
            continue;
        }
        if (other->what) {
            return refuse_input(&mine->output, other, err);
        }
        if (i < which) {
            return error_set(err, ERROR_USAGE,
                             "%s: %s and %s would write the same file; expected two names",
                             mine->output.name, other->output.option, mine->output.option);
        }
    }
    return 0;
}

static int check_kind(const struct outputs *outputs, const struct output *output,
                      file_kind_teller *tell, struct error *err)
{
    if (outputs->replace || output->is_added_to || !is_plain(output->name)) {
        return 0;
    }
    enum file_kind kind = tell(output->name);
    if (kind == FILE_OTHER || (output->may_replace & FILE_KIND_BIT(kind))) {
        return 0;
    }
    return error_set(err, ERROR_OUTPUT,
                     "%s: %s, which %s does not replace; expected another name, or --replace",
                     output->name, kind_words[kind], output->option);
}

/* What would make the work vain is found before it. A pipe would see its writer go. */
static int check_writable(const struct output *output, struct error *err)
{
    struct file_out trial = {0};
    struct stat info;
    bool special =
        stat(output->name, &info) == 0 && !S_ISREG(info.st_mode) && !S_ISDIR(info.st_mode);
    if (output->is_added_to || output->is_tried_later || special) {
        return 0;
    }
    int code = file_out_open(&trial, output->name, err);
    if (!code) {
        file_out_abandon(&trial);
    }
    return code;
}

int outputs_check(const struct outputs *outputs, file_kind_teller *tell, struct error *err)
{
    int code = 0;
    for (int i = 0; !code && i < outputs->count; i++) {
        const struct output_claim *claim = &outputs->claim[i];
        if (!claim->what && can_harm(claim)) {
            code = check_others(outputs, i, err);
        }
    }
    for (int i = 0; !code && i < outputs->count; i++) {
        const struct output_claim *claim = &outputs->claim[i];
        if (!claim->what) {
            code = check_kind(outputs, &claim->output, tell, err);
            code = code ? code : check_writable(&claim->output, err);
        }
    }
    return code;
}

void outputs_free(struct outputs *outputs)
{
    for (int i = 0; i < outputs->count; i++) {
        file_identity_free(&outputs->claim[i].identity);
        free(outputs->claim[i].shown);
    }
    free(outputs->claim);
    memset(outputs, 0, sizeof *outputs);
}
