#include "web/engine/shared_build.h"

#include "base/file.h"
#include "build.h"
#include "catalogue.h"
#include "choose_quads.h"
#include "match/packed.h"

#include <emscripten.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static struct {
    struct build *build;
    struct build_options options;
    struct build_report report;
    struct catalogue catalogue;
    struct file_out file;
    struct error err;
} shared;

/* As alidade-index has it, where nothing is said. */
static const struct build_options usual = {.name = "Hipparcos", .faintest = NAN, .threads = 1};

static int fail(int code)
{
    if (code && shared.build) {
        build_end(shared.build, true);
        shared.build = NULL;
    }
    if (code) {
        file_out_abandon(&shared.file);
    }
    return code;
}

EMSCRIPTEN_KEEPALIVE int engine_build_begin(const char *stars, const char *output)
{
    static const struct catalogue_columns columns = {.threads = 1};
    struct catalogue_report rows;
    uint32_t chunks = 0;
    shared.options = usual;
    shared.err = (struct error){0};
    int code = catalogue_read(&shared.catalogue, &rows, stars, &columns, NULL, NULL, &shared.err);
    code = code ? code : file_out_open(&shared.file, output, &shared.err);
    if (!code) {
        shared.build = build_begin(&chunks, shared.file.stream, &shared.report, &shared.catalogue,
                                   &shared.options, &shared.err);
        fail(shared.build ? 0 : shared.err.code);
    }
    catalogue_free(&shared.catalogue);
    return (int)chunks;
}

EMSCRIPTEN_KEEPALIVE int engine_build_choose(int first, int end)
{
    return fail(build_choose(shared.build, (uint32_t)first, (uint32_t)end));
}

static void put_chunk(FILE *out, const struct chosen *chosen)
{
    fwrite(chosen, sizeof *chosen, 1, out);
    fwrite(chosen->near, 1, chosen->near_size, out);
    fwrite(chosen->quad, sizeof *chosen->quad, chosen->quads, out);
}

EMSCRIPTEN_KEEPALIVE int engine_build_give(int first, int end, const char *output)
{
    FILE *out = fopen(output, "wb");
    int code = out ? 0 : ERROR_OUTPUT;
    for (int i = first; i < end && !code; i++) {
        struct chosen chosen;
        build_choose_one(&chosen, shared.build, (uint32_t)i);
        code = chosen.no_memory ? ERROR_MEMORY : 0;
        if (!code) {
            put_chunk(out, &chosen);
        }
        chosen_free(&chosen);
    }
    return out && fclose(out) == 0 ? code : ERROR_OUTPUT;
}

/* What the other engine had at its places lies behind it in the file. False at its end. */
static bool get_chunk(struct chosen *chosen, FILE *in)
{
    if (fread(chosen, sizeof *chosen, 1, in) != 1) {
        return false;
    }
    chosen->near = calloc(1, chosen->near_size + PACKED_SLACK);
    chosen->quad = malloc(((size_t)chosen->quads + 1) * sizeof *chosen->quad);
    chosen->no_memory = !chosen->near || !chosen->quad;
    if (!chosen->no_memory) {
        bool whole = fread(chosen->near, 1, chosen->near_size, in) == chosen->near_size;
        whole =
            whole && fread(chosen->quad, sizeof *chosen->quad, chosen->quads, in) == chosen->quads;
        chosen->no_memory = !whole;
    }
    return true;
}

EMSCRIPTEN_KEEPALIVE int engine_build_take(const char *input)
{
    FILE *in = fopen(input, "rb");
    int code = in ? 0 : ERROR_INPUT;
    struct chosen chosen;
    while (!code && get_chunk(&chosen, in)) {
        code = build_take(shared.build, &chosen);
    }
    if (in) {
        fclose(in);
    }
    return fail(code);
}

EMSCRIPTEN_KEEPALIVE int engine_build_end(void)
{
    int code = build_end(shared.build, false);
    shared.build = NULL;
    code = code ? code : file_out_commit(&shared.file, &shared.err);
    return fail(code);
}

EMSCRIPTEN_KEEPALIVE const char *engine_complaint(void)
{
    return shared.err.text;
}
