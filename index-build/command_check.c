#include "base/file.h"
#include "index_commands.h"
#include "match/index.h"

#include <string.h>

static const struct option_row options[] = {{0}};

/* Number of records of a section and what they are. */
static void describe_section(char *text, size_t size, const char *name, const struct index *index)
{
    if (strcmp(name, "STAR") == 0) {
        snprintf(text, size, "%lu stars: directions, magnitudes, cells and order",
                 (unsigned long)index->stars);
    } else if (strcmp(name, "IDNO") == 0) {
        snprintf(text, size, "the catalogue's numbers of the stars");
    } else if (strcmp(name, "CELL") == 0) {
        snprintf(text, size, "sky cells of %d levels: centres and order", index->levels);
    } else if (strcmp(name, "NEAR") == 0) {
        snprintf(text, size, "%d nearest brighter stars of each: which and in which order",
                 index->neighbours);
    } else if (strcmp(name, "CODE") == 0) {
        snprintf(text, size, "shape cells: order");
    } else {
        snprintf(text, size, "%lu quads: members, shapes, cells and order",
                 (unsigned long)index->quads);
    }
}

static void say_sound(FILE *out, const char *file, const struct file_map *map,
                      const struct index *index)
{
    fprintf(out, "%s: sound\n", file);
    fprintf(out, "  header  %12s        checksum, sizes and places of the sections\n", "");
    char name[5];
    uint64_t offset, length;
    for (int i = 0; index_section(map->bytes, map->size, i, name, &offset, &length); i++) {
        char text[100];
        describe_section(text, sizeof text, name, index);
        fprintf(out, "  %-6s  %12llu bytes  checksum; %s\n", name, (unsigned long long)length,
                text);
    }
}

static int check_one(const char *file, FILE *out, struct error *err)
{
    struct file_map map = {0};
    struct index index = {0};
    int code = file_map_open(&map, file, err);
    if (code) {
        return code;
    }
    code = index_decode(&index, map.bytes, map.size, err);
    if (!code) {
        code = index_check(map.bytes, map.size, err);
    }
    if (!code) {
        say_sound(out, file, &map, &index);
    } else if (code != ERROR_MEMORY) {
        error_prefix(err, file);
    }
    file_map_close(&map);
    return code;
}

/* Every file gets its answer, so problems are told as they come; the last one is for the caller. */
static int run(const void *settings, int operands, char **operand, FILE *out, struct error *err)
{
    (void)settings;
    int worst = 0;
    for (int i = 0; i < operands; i++) {
        struct error problem = {0};
        if (check_one(operand[i], out, &problem)) {
            if (worst) {
                fflush(out);
                fprintf(stderr, "alidade-index check: %s\n", err->text);
            }
            *err = problem;
            worst = problem.code;
        }
    }
    return worst;
}

const struct command command_check = {
    .name = "check",
    .summary = "Verify every part of an index.",
    .operands = "INDEX...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about = "Compares each section with its checksum and each number in it with what it must be: "
             "stars in their cells and order, quads whose shapes are what their stars say. Reports "
             "what it checked, or the first fault. Takes seconds.",
    .options = options,
    .run = run,
};
