#include "base/median.h"
#include "base/units.h"
#include "base/utf8.h"
#include "index_commands.h"
#include "match/index.h"
#include "match/index_schema.h"

#include <chealpix.h>
#include <stdlib.h>

enum {
    QUADS_LOOKED_AT = 100000,
    MAP_LEVEL = 3, /* 768 cells of 53.7 square degrees */
    MAP_CELLS = 768
};

static const double sky_square_degrees = 41252.961249419;

struct show_settings {
    bool json;
};

static const struct option_row options[] = {
    {.name = "json",
     .help = "print one JSON object on one line",
     .store = offsetof(struct show_settings, json)},
    {0},
};

/* What is not in the header. */
struct survey {
    double width[3];          /* of the quads, degrees: a tenth, half, nine tenths are below */
    double mean;              /* stars a square degree of the whole sky */
    double emptiest, fullest; /* of the MAP_CELLS parts of the sky */
};

/* Widths of up to so many quads, of cells taken evenly; damaged ones are passed over. */
static int list_widths(double *width, const struct index *index)
{
    uint32_t step = index->quads / QUADS_LOOKED_AT + 1;
    int count = 0;
    for (uint32_t cell = 0; cell < index->grid.cells && count < QUADS_LOOKED_AT; cell++) {
        struct index_block block;
        struct index_quad quad;
        uint32_t anchor;
        if (!index_block_open(&block, index, cell)) {
            continue;
        }
        for (uint32_t i = cell % step; i < block.count && count < QUADS_LOOKED_AT; i += step) {
            if (index_numbered_quad(&quad, &anchor, index, index_block_number(&block, i))) {
                width[count++] = quad.diameter * DEG_PER_RAD;
            }
        }
    }
    return count;
}

static int survey_quads(struct survey *survey, const struct index *index, struct error *err)
{
    static const double quantile[3] = {0.1, 0.5, 0.9};
    double *width = malloc(QUADS_LOOKED_AT * sizeof *width);
    if (!width) {
        return error_memory(err);
    }
    int count = list_widths(width, index);
    for (int i = 0; i < 3; i++) {
        survey->width[i] = median_quantile(width, count, quantile[i]);
    }
    free(width);
    return 0;
}

/* Of so many stars some millions are looked at. */
static void survey_density(struct survey *survey, const struct index *index)
{
    long part[MAP_CELLS] = {0};
    const uint32_t step = index->stars / 4000000 + 1;
    for (uint32_t i = 0; i < index->stars; i += step) {
        double v[3];
        long in;
        index_star_vector(v, &index->star[i]);
        vec2pix_nest(1 << MAP_LEVEL, v, &in);
        part[in] += step;
    }
    long least = part[0], most = part[0];
    for (int i = 1; i < MAP_CELLS; i++) {
        least = part[i] < least ? part[i] : least;
        most = part[i] > most ? part[i] : most;
    }
    survey->mean = index->stars / sky_square_degrees;
    survey->emptiest = (double)least * MAP_CELLS / sky_square_degrees;
    survey->fullest = (double)most * MAP_CELLS / sky_square_degrees;
}

static void print_text(FILE *out, const struct index_file *file, const struct survey *survey)
{
    const struct index *index = &file->index;
    const struct index_facts *facts = &index->facts;
    fputs("catalogue   ", out);
    utf8_write_shown(out, facts->name);
    fputc('\n', out);
    if (facts->source[0]) {
        fprintf(out, "source      %s\n", facts->source);
    }
    fprintf(out, "epoch       J%.8g\n", facts->epoch_year);
    fprintf(out, "stars       %lu, magnitude %.2f to %.2f\n", (unsigned long)index->stars,
            facts->brightest, facts->faintest);
    fprintf(
        out,
        "density     %.2f stars per square degree; %.2f in the emptiest of %d parts of the sky, "
        "%.2f in the fullest\n",
        survey->mean, survey->emptiest, (int)MAP_CELLS, survey->fullest);
    fprintf(out, "quads       %lu, of stars with three of their %d nearest brighter neighbours\n",
            (unsigned long)index->quads, index->neighbours);
    fprintf(out, "quad width  half below %.2g degrees, eight in ten from %.2g to %.2g\n",
            survey->width[1], survey->width[0], survey->width[2]);
    fprintf(out, "levels      %d\n", index->levels);
    fprintf(out, "file        %zu bytes, format version %d\n", file->map.size, INDEX_VERSION);
    char name[5];
    uint64_t offset, length;
    for (int i = 0; index_section(file->map.bytes, file->map.size, i, name, &offset, &length);
         i++) {
        fprintf(out, "  %s      %12llu bytes at %llu\n", name, (unsigned long long)length,
                (unsigned long long)offset);
    }
}

static void put_sections(struct json *json, const struct file_map *map)
{
    char name[5];
    uint64_t offset, length;
    schema_open(json, "sections");
    for (int i = 0; index_section(map->bytes, map->size, i, name, &offset, &length); i++) {
        schema_open(json, NULL);
        schema_put_text(json, "name", name);
        schema_put_integer(json, "offset", (long)offset);
        schema_put_integer(json, "bytes", (long)length);
        schema_close(json);
    }
    schema_close(json);
}

static void put_survey(struct json *json, const struct survey *survey)
{
    static const char *const width[3] = {"tenth", "median", "nine_tenths"};
    schema_open(json, "stars_per_sq_deg");
    schema_put_number(json, "mean", survey->mean);
    schema_put_number(json, "emptiest", survey->emptiest);
    schema_put_number(json, "fullest", survey->fullest);
    schema_close(json);
    schema_open(json, "quad_width_deg");
    for (int i = 0; i < 3; i++) {
        schema_put_number(json, width[i], survey->width[i]);
    }
    schema_close(json);
}

static int print_json(FILE *out, const char *name, const struct index_file *file,
                      const struct survey *survey, struct error *err)
{
    const struct index *index = &file->index;
    struct json json = {0};
    schema_begin(&json, &index_schema);
    schema_put_text(&json, "file", name);
    schema_put_format(&json);
    schema_put_integer(&json, "version", INDEX_VERSION);
    schema_put_integer(&json, "bytes", (long)file->map.size);
    schema_put_text(&json, "catalogue", index->facts.name);
    schema_put_text(&json, "source", index->facts.source);
    schema_put_number(&json, "epoch_year", index->facts.epoch_year);
    schema_put_integer(&json, "stars", (long)index->stars);
    schema_open(&json, "magnitude");
    schema_put_number(&json, "brightest", index->facts.brightest);
    schema_put_number(&json, "faintest", index->facts.faintest);
    schema_close(&json);
    schema_put_integer(&json, "quads", (long)index->quads);
    schema_put_integer(&json, "neighbours", index->neighbours);
    schema_put_integer(&json, "levels", index->levels);
    put_survey(&json, survey);
    put_sections(&json, &file->map);
    return schema_end_line(&json, out, err);
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    (void)operands;
    const struct show_settings *settings = given;
    struct index_file file = {0};
    struct survey survey = {0};
    int code = index_open(&file, operand[0], err);
    if (!code) {
        code = survey_quads(&survey, &file.index, err);
    }
    if (!code) {
        survey_density(&survey, &file.index);
        if (settings->json) {
            code = print_json(out, operand[0], &file, &survey, err);
        } else {
            print_text(out, &file, &survey);
        }
    }
    index_close(&file);
    return code;
}

const struct command command_show = {
    .name = "show",
    .summary = "Show what is in an index.",
    .operands = "INDEX",
    .least = 1,
    .most = 1,
    .options = options,
    .settings_size = sizeof(struct show_settings),
    .run = run,
};
