/* Expat reads the document piece by piece and opens nothing besides it; entities that the document
 * declares itself are refused. */
#include "read_stars.h"
#include "votable_rows.h"

#include <expat.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum {
    CHUNK = 1 << 16,
    MOST_CELL = 4096,
    MOST_SYSTEMS = 64,
    MOST_DEPTH = 100,
    MOST_PIECE = 4 << 20
};

/* What a COOSYS says. */
struct frame_of_reference {
    char id[40];
    double epoch, equinox;
};

struct votable {
    XML_Parser parser;
    const struct read_task *task;
    struct catalogue *catalogue;
    struct row_tally *tally;
    struct star_columns *columns; /* of the table that is read */
    struct error problem;         /* why the work stops */
    struct error first;           /* why the first table could not be used */

    struct frame_of_reference frame[MOST_SYSTEMS];
    int frames;

    int tables;           /* met so far */
    char table_name[100]; /* the one now open */
    char used_name[100];  /* the one that was read */
    bool any_used;
    bool used; /* this table is read */
    struct column_list list;
    struct votable_field field[COLUMNS_MOST];
    char reference[COLUMNS_MOST][40]; /* to a COOSYS */
    bool in_field, in_rows;
    int depth; /* how deep the element lies, against a flood of them */

    int part_of[COLUMNS_MOST]; /* the first part in the column; -1: none */
    struct star_row row;
    int cell;     /* number of the cell now open */
    bool in_cell; /* and whether it is wanted */
    char text[MOST_CELL];
    size_t text_length;
    long row_number;

    bool in_stream, flagged;
    struct votable_bytes bytes;
    struct votable_cell cells[COLUMNS_MOST];
};

static void stop(struct votable *v)
{
    XML_StopParser(v->parser, XML_FALSE);
}

static const char *attribute(const char **attributes, const char *name)
{
    for (; *attributes; attributes += 2) {
        if (strcmp(attributes[0], name) == 0) {
            return attributes[1];
        }
    }
    return "";
}

/* The name without the prefix of a namespace. */
static const char *local_name(const char *name)
{
    const char *colon = strrchr(name, ':');
    return colon ? colon + 1 : name;
}

/* "J2016.0", "B1950", "2016". */
static double read_year(const char *text)
{
    double year = strtod(text + (*text == 'J' || *text == 'B'), NULL);
    return year > 1800 && year < 2200 ? year : 0;
}

static void note_system(struct votable *v, const char **attributes)
{
    if (v->frames == MOST_SYSTEMS) {
        return;
    }
    struct frame_of_reference *frame = &v->frame[v->frames++];
    const char *system = attribute(attributes, "system"), *id = attribute(attributes, "ID");
    column_text(frame->id, sizeof frame->id, id, strlen(id));
    frame->epoch = read_year(attribute(attributes, "epoch"));
    frame->equinox = read_year(attribute(attributes, "equinox"));
    if (strstr(system, "FK4") && frame->equinox == 0) {
        frame->equinox = 1950;
    }
}

/* A service says so when it cut its answer or failed. */
static void note_status(struct votable *v, const char **attributes)
{
    if (strcasecmp(attribute(attributes, "name"), "QUERY_STATUS") != 0) {
        return;
    }
    const char *status = attribute(attributes, "value");
    struct catalogue_report *r = &v->tally->report;
    if (strcasecmp(status, "OVERFLOW") == 0 && r->warnings == 0) {
        snprintf(r->warning[r->warnings++], sizeof r->warning[0],
                 "the service cut its answer at its limit of rows: stars are missing");
    } else if (strcasecmp(status, "ERROR") == 0) {
        error_set(&v->problem, ERROR_INPUT,
                  "%s: holds no answer, but the service's word that the query failed",
                  v->task->name);
        stop(v);
    }
}

static void begin_table(struct votable *v, const char **attributes)
{
    const char *name = attribute(attributes, "name"), *id = attribute(attributes, "ID");
    name = *name ? name : id;
    column_text(v->table_name, sizeof v->table_name, name, strlen(name));
    v->tables++;
    v->used = false;
    v->list.epoch = v->list.equinox = 0;
    if (column_list_clear(&v->list, &v->problem)) {
        stop(v);
    }
}

static void begin_field(struct votable *v, const char **attributes)
{
    const char *name = attribute(attributes, "name"), *unit = attribute(attributes, "unit");
    const char *reference = attribute(attributes, "ref"), *role = attribute(attributes, "ucd");
    name = *name ? name : attribute(attributes, "ID");
    if (!v->list.column ||
        column_list_add(&v->list, name, strlen(name), unit, strlen(unit), &v->problem)) {
        stop(v);
        return;
    }
    int i = v->list.count - 1;
    v->in_field = true;
    column_text(v->list.column[i].role, sizeof v->list.column[i].role, role, strlen(role));
    column_text(v->reference[i], sizeof v->reference[i], reference, strlen(reference));
    if (!votable_field_read(&v->field[i], attribute(attributes, "datatype"),
                            attribute(attributes, "arraysize"))) {
        v->field[i].kind = 0;
    }
}

static void note_null(struct votable *v, const char **attributes)
{
    const char *null = attribute(attributes, "null");
    if (!v->in_field || !null[0]) {
        return;
    }
    struct column *column = &v->list.column[v->list.count - 1];
    column_text(column->null, sizeof column->null, null, strlen(null));
}

/* What the COOSYS that a column refers to says of the whole table. */
static void apply_system(struct votable *v, int column)
{
    for (int i = 0; i < v->frames; i++) {
        const struct frame_of_reference *frame = &v->frame[i];
        if (frame->id[0] && strcmp(frame->id, v->reference[column]) == 0) {
            v->list.epoch = frame->epoch;
            v->list.equinox = frame->equinox;
        }
    }
}

static bool is_wanted(const struct votable *v)
{
    const char *wanted = v->task->wanted->table;
    char digits[16];
    snprintf(digits, sizeof digits, "%d", v->tables);
    return !wanted || strcasecmp(wanted, v->table_name) == 0 || strcmp(wanted, digits) == 0;
}

static void map_parts(struct votable *v)
{
    for (int i = 0; i < v->list.count; i++) {
        v->part_of[i] = -1;
    }
    for (int part = PART_COUNT - 1; part >= 0; part--) {
        if (v->columns->column[part] >= 0) {
            v->part_of[v->columns->column[part]] = part;
        }
    }
}

/* Looks at the columns where the rows begin, and decides whether this is the table to read. */
static void begin_data(struct votable *v, const char **attributes)
{
    (void)attributes;
    struct star_columns found;
    struct error why = {0};
    if (!is_wanted(v)) {
        return;
    }
    int code = star_columns_find(&found, &v->list, v->task->wanted, &why);
    if (!code) {
        apply_system(v, found.column[PART_RA]);
        code = star_columns_find(&found, &v->list, v->task->wanted, &why);
    }
    if (code) {
        v->first = v->first.code ? v->first : why;
        return;
    }
    if (v->any_used) {
        error_set(&v->problem, ERROR_INPUT,
                  "%.200s: holds several tables of stars, %.80s and %.80s among them; choose one "
                  "with --table NAME",
                  v->task->name, v->used_name, v->table_name);
        stop(v);
        return;
    }
    *v->columns = found;
    memcpy(v->used_name, v->table_name, sizeof v->used_name);
    v->any_used = v->used = true;
    map_parts(v);
}

static void refuse_stream(struct votable *v, const char *why)
{
    error_set(&v->problem, ERROR_INPUT, "%.200s: the rows of table %.100s %s", v->task->name,
              v->table_name, why);
    stop(v);
}

/* The bytes of a row can only be counted when every datatype is known, and the parts of a star are
 * single numbers or text. */
static void begin_stream(struct votable *v, const char **attributes)
{
    const char *encoding = attribute(attributes, "encoding");
    if (!v->used) {
        return;
    }
    if (attribute(attributes, "href")[0]) {
        refuse_stream(v, "lie outside the document, which is not followed");
        return;
    }
    if (encoding[0] && strcmp(encoding, "base64") != 0) {
        refuse_stream(v, "are not base64, as expected within the document");
        return;
    }
    for (int i = 0; i < v->list.count; i++) {
        if (!v->field[i].kind) {
            error_set(&v->problem, ERROR_INPUT,
                      "%.200s: table %.100s: column %.72s has no datatype and size that are known",
                      v->task->name, v->table_name, v->list.column[i].name);
            stop(v);
            return;
        }
    }
    votable_bytes_free(&v->bytes);
    v->in_stream = true;
}

static void begin_row(struct votable *v, const char **attributes)
{
    (void)attributes;
    for (int part = 0; part < PART_COUNT; part++) {
        v->row.value[part] = 0;
        v->row.state[part] = CELL_ABSENT;
    }
    v->cell = -1;
    v->row_number++;
}

static void begin_cell(struct votable *v, const char **attributes)
{
    (void)attributes;
    v->cell++;
    v->in_cell = v->in_rows && v->cell < v->list.count && v->part_of[v->cell] >= 0;
    v->text_length = 0;
}

static void trim(const char **text, size_t *length)
{
    while (*length > 0 && strchr(" \t\r\n", **text) && **text) {
        (*text)++;
        (*length)--;
    }
    while (*length > 0 && strchr(" \t\r\n", (*text)[*length - 1]) && (*text)[*length - 1]) {
        (*length)--;
    }
}

/* Gives the text of a cell to all parts that stand in it. */
static void set_text(struct votable *v, int column, const char *text, size_t length)
{
    trim(&text, &length);
    for (int part = v->part_of[column]; part < PART_COUNT; part++) {
        if (v->columns->column[part] == column) {
            star_row_set_text(&v->row, (enum star_part)part, text, length);
        }
    }
}

static void end_cell(struct votable *v)
{
    if (v->in_cell) {
        set_text(v, v->cell, v->text, v->text_length);
        v->in_cell = false;
    }
}

/* A number as it is told of in a complaint. */
static void describe_value(char *text, size_t size, const struct votable *v, struct row_fault fault)
{
    snprintf(text, size, "%.10g", v->row.value[fault.part]);
    if (fault.kind == FAULT_WRONG) {
        text[0] = '\0';
    }
}

static void judge_row(struct votable *v)
{
    struct catalogue_star star;
    char text[40];
    struct row_fault fault = star_row_judge(&star, v->tally, &v->row, v->columns);
    describe_value(text, sizeof text, v, fault);
    row_tally_count(v->tally, fault, v->columns, v->row_number, text, strlen(text));
    if (!fault.kind && !catalogue_append(v->catalogue, &star, 1)) {
        error_memory(&v->problem);
        stop(v);
    }
}

static void end_row(struct votable *v)
{
    char reason[80];
    if (v->cell + 1 != v->list.count) {
        snprintf(reason, sizeof reason, "expected %d cells, found %d", v->list.count, v->cell + 1);
        row_tally_count_bad(v->tally, v->row_number, reason);
        return;
    }
    judge_row(v);
}

static void set_cell(struct votable *v, int column)
{
    const struct votable_cell *cell = &v->cells[column];
    const struct votable_field *field = &v->field[column];
    if (field->kind == 'c' && cell->start) {
        const char *text = (const char *)cell->start;
        const char *end = memchr(text, '\0', cell->items);
        set_text(v, column, text, end ? (size_t)(end - text) : (size_t)cell->items);
        return;
    }
    bool is_whole;
    int64_t whole;
    double value = votable_cell_number(cell, field, &whole, &is_whole);
    for (int part = v->part_of[column]; part < PART_COUNT; part++) {
        if (v->columns->column[part] == column) {
            star_row_set_number(&v->row, (enum star_part)part, value);
            if (part == PART_ID && is_whole) {
                star_row_set_whole(&v->row, whole);
            }
        }
    }
}

static void read_stream_rows(struct votable *v)
{
    int got;
    while (!v->problem.code && (got = votable_bytes_row(v->cells, &v->bytes, v->field,
                                                        v->list.count, v->flagged)) != 0) {
        if (got < 0) {
            refuse_stream(v, "are damaged: one would be larger than 64 MB");
            return;
        }
        begin_row(v, NULL);
        for (int i = 0; i < v->list.count; i++) {
            if (v->part_of[i] >= 0) {
                set_cell(v, i);
            }
        }
        judge_row(v);
    }
}

static void end_stream(struct votable *v)
{
    if (v->in_stream && !v->problem.code && v->bytes.used != v->bytes.size) {
        refuse_stream(v, "end within a row");
    }
    v->in_stream = false;
}

static void begin_rows(struct votable *v, const char **attributes)
{
    (void)attributes;
    v->in_rows = v->used;
}

static void begin_binary(struct votable *v, const char **attributes)
{
    (void)attributes;
    v->flagged = false;
}

static void begin_binary2(struct votable *v, const char **attributes)
{
    (void)attributes;
    v->flagged = true;
}

static void begin_fits(struct votable *v, const char **attributes)
{
    (void)attributes;
    if (v->used) {
        refuse_stream(v, "are FITS within the document; expected TABLEDATA, BINARY or BINARY2");
    }
}

/* The most frequent come first. */
static const struct {
    const char *name;
    void (*begin)(struct votable *v, const char **attributes);
} elements[] = {
    {"TD", begin_cell},        {"TR", begin_row},        {"FIELD", begin_field},
    {"VALUES", note_null},     {"TABLE", begin_table},   {"DATA", begin_data},
    {"TABLEDATA", begin_rows}, {"BINARY", begin_binary}, {"BINARY2", begin_binary2},
    {"FITS", begin_fits},      {"STREAM", begin_stream}, {"COOSYS", note_system},
    {"INFO", note_status},
};

static void on_start(void *context, const char *name, const char **attributes)
{
    struct votable *v = context;
    name = local_name(name);
    if (++v->depth == 1 && strcmp(name, "VOTABLE") != 0) {
        error_set(&v->problem, ERROR_INPUT,
                  "%s: is XML, but not the VOTable that is expected: its root is <%.40s>",
                  v->task->name, name);
        stop(v);
        return;
    }
    if (v->depth > MOST_DEPTH) {
        error_set(&v->problem, ERROR_INPUT, "%s: elements lie more than %d deep", v->task->name,
                  MOST_DEPTH);
        stop(v);
        return;
    }
    for (size_t i = 0; i < sizeof elements / sizeof *elements && !v->problem.code; i++) {
        if (strcmp(elements[i].name, name) == 0) {
            elements[i].begin(v, attributes);
            return;
        }
    }
}

static void on_end(void *context, const char *name)
{
    struct votable *v = context;
    name = local_name(name);
    v->depth--;
    if (v->problem.code) {
        return;
    }
    if (v->in_rows && strcmp(name, "TD") == 0) {
        end_cell(v);
    } else if (v->in_rows && strcmp(name, "TR") == 0) {
        end_row(v);
    } else if (strcmp(name, "TABLEDATA") == 0) {
        v->in_rows = false;
    } else if (strcmp(name, "FIELD") == 0) {
        v->in_field = false;
    } else if (strcmp(name, "STREAM") == 0) {
        end_stream(v);
    } else if (strcmp(name, "DATA") == 0) {
        v->used = false;
    }
}

static void on_text(void *context, const char *text, int length)
{
    struct votable *v = context;
    size_t size = (size_t)length;
    if (v->problem.code) {
        return;
    }
    if (v->in_cell) {
        size = size < MOST_CELL - v->text_length ? size : MOST_CELL - v->text_length;
        memcpy(v->text + v->text_length, text, size);
        v->text_length += size;
    } else if (v->in_stream) {
        if (votable_bytes_add(&v->bytes, text, size, v->task->name, &v->problem)) {
            stop(v);
            return;
        }
        read_stream_rows(v);
    }
}

static void on_entity(void *context, const char *name, int is_parameter, const char *value,
                      int length, const char *base, const char *system, const char *public,
                      const char *notation)
{
    struct votable *v = context;
    (void)name, (void)is_parameter, (void)value, (void)length;
    (void)base, (void)system, (void)public, (void)notation;
    error_set(&v->problem, ERROR_INPUT, "%s: declares entities of its own, which no VOTable needs",
              v->task->name);
    stop(v);
}

static int refuse_xml(const struct votable *v, struct error *err)
{
    enum XML_Error code = XML_GetErrorCode(v->parser);
    unsigned long line = XML_GetCurrentLineNumber(v->parser);
    if (code == XML_ERROR_NO_MEMORY) {
        return error_memory(err);
    }
    if (code == XML_ERROR_NO_ELEMENTS || code == XML_ERROR_UNCLOSED_TOKEN ||
        code == XML_ERROR_PARTIAL_CHAR || code == XML_ERROR_UNCLOSED_CDATA_SECTION) {
        return error_set(err, ERROR_INPUT, "%s: line %lu: the document is cut short", v->task->name,
                         line);
    }
    return error_set(err, ERROR_INPUT, "%s: line %lu: the XML is damaged (%s)", v->task->name, line,
                     XML_ErrorString(code));
}

static int parse(struct votable *v, struct input *input, struct error *err)
{
    XML_Index fed = 0;
    size_t got = CHUNK;
    while (got == CHUNK) {
        void *room = XML_GetBuffer(v->parser, CHUNK);
        int code = room ? input_read(input, room, CHUNK, &got, err) : error_memory(err);
        if (code) {
            return code;
        }
        if (XML_ParseBuffer(v->parser, (int)got, got < CHUNK) != XML_STATUS_OK) {
            return v->problem.code ? error_set(err, v->problem.code, "%s", v->problem.text)
                                   : refuse_xml(v, err);
        }
        fed += (XML_Index)got;
        /* Expat holds a tag or a comment until it ends, and begins it anew with each chunk. */
        if (fed - XML_GetCurrentByteIndex(v->parser) > MOST_PIECE) {
            return error_set(err, ERROR_INPUT,
                             "%s: line %lu: a tag or a comment is longer than 4 MB", v->task->name,
                             (unsigned long)XML_GetCurrentLineNumber(v->parser));
        }
        if (v->task->progress) {
            v->task->progress(input_share(input), v->task->context);
        }
    }
    return 0;
}

/* Says why no table was read. */
static int refuse_tables(const struct votable *v, struct error *err)
{
    if (v->first.code) {
        return error_set(err, v->first.code, "%s", v->first.text);
    }
    if (v->tables > 0 && v->task->wanted->table) {
        return error_set(err, ERROR_INPUT, "%s: no table \"%s\" with rows among %d", v->task->name,
                         v->task->wanted->table, v->tables);
    }
    return error_set(err, ERROR_INPUT, "%s: the VOTable holds no table with rows", v->task->name);
}

int read_votable_stars(struct catalogue *catalogue, struct row_tally *tally,
                       struct star_columns *columns, struct input *input,
                       const struct read_task *task, struct error *err)
{
    struct votable *v = calloc(1, sizeof *v);
    XML_Parser parser = XML_ParserCreate(NULL);
    if (!v || !parser) {
        free(v);
        XML_ParserFree(parser);
        return error_memory(err);
    }
    v->parser = parser;
    v->task = task;
    v->catalogue = catalogue;
    v->tally = tally;
    v->columns = columns;
    v->list.table = task->name;
    XML_SetUserData(parser, v);
    XML_SetElementHandler(parser, on_start, on_end);
    XML_SetCharacterDataHandler(parser, on_text);
    XML_SetEntityDeclHandler(parser, on_entity);
    int code = parse(v, input, err);
    if (!code && !v->any_used) {
        code = refuse_tables(v, err);
    }
    votable_bytes_free(&v->bytes);
    column_list_free(&v->list);
    XML_ParserFree(parser);
    free(v);
    return code;
}
