#include "read_stars.h"

#include "image/fits_name.h"

#include <fitsio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { TEXT_WIDTH = 64, BLOCK_ROWS = 8192 };

/* Stands for a number that the table marks as missing. */
#define NO_NUMBER INT64_MIN

/* One part of the stars, some rows of it. */
struct fits_part {
    int column; /* from 1; 0: the table has none */
    bool is_text;
    LONGLONG *whole; /* instead of value where 64 bits count */
    double *value;
    char **text; /* each TEXT_WIDTH + 1 bytes of one block */
};

struct fits_reader {
    fitsfile *file;
    const char *name;
    struct star_columns *columns;
    struct fits_part part[PART_COUNT];
    struct catalogue_star *star; /* the good ones of a block */
};

static int refuse_fits(const char *name, const char *what, int status, struct error *err)
{
    char reason[FLEN_STATUS];
    fits_get_errstatus(status, reason);
    fits_clear_errmsg();
    return error_set(err, ERROR_INPUT, "%.300s: %s (%s)", name, what, reason);
}

static void read_keyword(fitsfile *file, const char *root, int number, char *value)
{
    char keyword[FLEN_KEYWORD];
    int status = 0;
    fits_make_keyn(root, number, keyword, &status);
    if (fits_read_key(file, TSTRING, keyword, value, NULL, &status)) {
        value[0] = '\0';
        fits_clear_errmsg();
    }
}

static int read_heading(struct column_list *list, fitsfile *file, int *status, struct error *err)
{
    int count = 0, code = column_list_clear(list, err);
    fits_get_num_cols(file, &count, status);
    for (int i = 1; i <= count && !*status && !code; i++) {
        char name[FLEN_VALUE], unit[FLEN_VALUE];
        read_keyword(file, "TTYPE", i, name);
        read_keyword(file, "TUNIT", i, unit);
        code = column_list_add(list, name, strlen(name), unit, strlen(unit), err);
    }
    return code;
}

static double read_equinox(fitsfile *file)
{
    double equinox = 0;
    char frame[FLEN_VALUE] = "";
    int status = 0;
    if (fits_read_key(file, TDOUBLE, "EQUINOX", &equinox, NULL, &status)) {
        equinox = 0;
    }
    status = 0;
    if (fits_read_key(file, TSTRING, "RADESYS", frame, NULL, &status) == 0 &&
        strncmp(frame, "FK4", 3) == 0) {
        equinox = 1950;
    }
    fits_clear_errmsg();
    return equinox;
}

/* Whether the user wants this table: any, or the one with that EXTNAME or number. */
static bool is_wanted(fitsfile *file, int number, const char *wanted)
{
    char name[FLEN_VALUE] = "", digits[16];
    int status = 0;
    fits_read_key(file, TSTRING, "EXTNAME", name, NULL, &status);
    fits_clear_errmsg();
    snprintf(digits, sizeof digits, "%d", number);
    return !wanted || strcasecmp(wanted, name) == 0 || strcmp(wanted, digits) == 0;
}

/* Moves to the first table with the columns wanted. When there is none the message is about the
 * first table. */
static int find_table(struct star_columns *columns, fitsfile *file, struct column_list *list,
                      const struct read_task *task, struct error *err)
{
    struct error problem = {0}, first = {0};
    int status = 0, count = 0;
    fits_get_num_hdus(file, &count, &status);
    for (int i = 2; i <= count && !status; i++) {
        int type = IMAGE_HDU;
        if (fits_movabs_hdu(file, i, &type, &status) || type == IMAGE_HDU ||
            !is_wanted(file, i - 1, task->wanted->table)) {
            continue;
        }
        int code = read_heading(list, file, &status, &problem);
        list->equinox = read_equinox(file);
        if (!code && !status && star_columns_find(columns, list, task->wanted, &problem) == 0) {
            return 0;
        }
        first = first.code ? first : problem;
    }
    if (status) {
        return refuse_fits(task->name, "the FITS file is damaged", status, err);
    }
    if (!first.code && task->wanted->table) {
        return error_set(err, ERROR_INPUT, "%s: the FITS file holds no table \"%s\"", task->name,
                         task->wanted->table);
    }
    if (!first.code) {
        return error_set(err, ERROR_INPUT, "%s: the FITS file holds no table", task->name);
    }
    return error_set(err, first.code, "%s", first.text);
}

static bool is_number_type(int type)
{
    return type == TBYTE || type == TSBYTE || type == TSHORT || type == TUSHORT || type == TINT ||
           type == TUINT || type == TLONG || type == TULONG || type == TLONGLONG ||
           type == TULONGLONG || type == TFLOAT || type == TDOUBLE;
}

static bool make_text_room(struct fits_part *part)
{
    part->text = malloc(BLOCK_ROWS * (sizeof(char *) + TEXT_WIDTH + 1));
    if (!part->text) {
        return false;
    }
    char *bytes = (char *)(part->text + BLOCK_ROWS);
    for (int i = 0; i < BLOCK_ROWS; i++) {
        part->text[i] = bytes + i * (TEXT_WIDTH + 1);
    }
    return true;
}

/* Decides how a column is read, and makes room for a block of it. */
static int prepare_part(struct fits_reader *reader, enum star_part which, struct error *err)
{
    struct fits_part *part = &reader->part[which];
    int status = 0, type = 0;
    long repeat = 0, width = 0;
    if (fits_get_eqcoltype(reader->file, part->column, &type, &repeat, &width, &status)) {
        return refuse_fits(reader->name, "a column has no readable type", status, err);
    }
    part->is_text = type == TSTRING;
    if (part->is_text && repeat > TEXT_WIDTH) {
        return error_set(err, ERROR_INPUT,
                         "%.200s: column %d (%s) is text of %ld characters, expected a number",
                         reader->name, part->column, star_part_name(which), repeat);
    }
    if (!part->is_text && (!is_number_type(type) || repeat != 1)) {
        return error_set(err, ERROR_INPUT, "%.200s: column %d (%s) is not one number a row",
                         reader->name, part->column, star_part_name(which));
    }
    if (part->is_text) {
        return make_text_room(part) ? 0 : error_memory(err);
    }
    if (which == PART_ID && type != TFLOAT && type != TDOUBLE && type != TULONGLONG) {
        part->whole = malloc(BLOCK_ROWS * sizeof *part->whole);
        return part->whole ? 0 : error_memory(err);
    }
    part->value = malloc(BLOCK_ROWS * sizeof *part->value);
    return part->value ? 0 : error_memory(err);
}

static int read_block(struct fits_reader *reader, LONGLONG first, int rows)
{
    double none = NAN;
    char no_text[] = "";
    LONGLONG no_number = NO_NUMBER;
    int status = 0, any_null = 0; /* CFITSIO writes the second without asking whether it may */
    for (int i = 0; i < PART_COUNT && !status; i++) {
        struct fits_part *part = &reader->part[i];
        if (part->column == 0) {
            continue;
        }
        if (part->is_text) {
            fits_read_col(reader->file, TSTRING, part->column, first, 1, rows, no_text, part->text,
                          &any_null, &status);
        } else if (part->whole) {
            fits_read_col(reader->file, TLONGLONG, part->column, first, 1, rows, &no_number,
                          part->whole, &any_null, &status);
        } else {
            fits_read_col(reader->file, TDOUBLE, part->column, first, 1, rows, &none, part->value,
                          &any_null, &status);
        }
    }
    return status;
}

static void trim(const char **start, size_t *length)
{
    *length = strlen(*start);
    while (*length > 0 && **start == ' ') {
        (*start)++;
        (*length)--;
    }
    while (*length > 0 && (*start)[*length - 1] == ' ') {
        (*length)--;
    }
}

static void read_row(struct star_row *row, const struct fits_reader *reader, int i)
{
    for (int p = 0; p < PART_COUNT; p++) {
        const struct fits_part *part = &reader->part[p];
        row->value[p] = 0;
        row->state[p] = CELL_ABSENT;
        if (part->is_text) {
            const char *text = part->text[i];
            size_t length;
            trim(&text, &length);
            star_row_set_text(row, (enum star_part)p, text, length);
        } else if (part->whole) {
            star_row_set_whole(row, part->whole[i]);
            row->state[p] = part->whole[i] == NO_NUMBER ? CELL_ABSENT : row->state[p];
        } else if (part->column) {
            star_row_set_number(row, (enum star_part)p, part->value[i]);
        }
    }
}

static void count_row(struct row_tally *tally, const struct fits_reader *reader,
                      struct row_fault fault, long line, int i)
{
    const struct fits_part *part = &reader->part[fault.part];
    char number[40];
    const char *text = number;
    if (part->is_text) {
        text = part->text[i];
    } else if (fault.kind == FAULT_RANGE) {
        snprintf(number, sizeof number, "%.10g", part->value[i]);
    } else {
        number[0] = '\0';
    }
    row_tally_count(tally, fault, reader->columns, line, text, strlen(text));
}

static int read_rows(struct catalogue *catalogue, struct row_tally *tally,
                     struct fits_reader *reader, const struct read_task *task, struct error *err)
{
    LONGLONG rows = 0;
    long step = 1; /* as many as cfitsio's buffers hold; columns of more are read from disk again */
    int status = 0;
    if (fits_get_num_rowsll(reader->file, &rows, &status) ||
        fits_get_rowsize(reader->file, &step, &status)) {
        return refuse_fits(task->name, "the number of rows is missing", status, err);
    }
    step = step < 1 ? 1 : step > BLOCK_ROWS ? BLOCK_ROWS : step;
    for (LONGLONG first = 1; first <= rows; first += step) {
        int block = (int)(rows - first + 1 < step ? rows - first + 1 : step);
        status = read_block(reader, first, block);
        if (status) {
            char what[80];
            snprintf(what, sizeof what, "cannot read rows %lld to %lld of %lld", (long long)first,
                     (long long)first + block - 1, (long long)rows);
            return refuse_fits(task->name, what, status, err);
        }
        long used = 0;
        for (int i = 0; i < block; i++) {
            struct star_row row = {0};
            read_row(&row, reader, i);
            struct row_fault fault =
                star_row_judge(&reader->star[used], tally, &row, reader->columns);
            count_row(tally, reader, fault, (long)first + i, i);
            used += fault.kind == FAULT_NONE;
        }
        if (!catalogue_append(catalogue, reader->star, used)) {
            return error_memory(err);
        }
        if (task->progress) {
            task->progress((double)(first + block - 1) / (double)rows, task->context);
        }
    }
    return 0;
}

/* Parts that only help are left out when they are no numbers, unless the user named them. */
static bool is_needed(enum star_part part, const struct catalogue_columns *wanted)
{
    return part <= PART_MAG || (part == PART_COLOUR && wanted->colour) ||
           (part == PART_ID && wanted->id) ||
           ((part == PART_PM_RA || part == PART_PM_DEC) && wanted->to_epoch > 0) ||
           (part >= PART_RA_MINUTES && part <= PART_DEC_SECONDS);
}

/* Rows may be packed away in an array beside the table (FITS standard 4.0, section 10.3). */
static int refuse_packed(fitsfile *file, const char *name, struct error *err)
{
    int packed = 0, status = 0;
    fits_read_key(file, TLOGICAL, "ZTABLE", &packed, NULL, &status);
    fits_clear_errmsg();
    if (status || !packed) {
        return 0;
    }
    return error_set(err, ERROR_INPUT,
                     "%s: the rows of the FITS table are compressed within it; unpack them first",
                     name);
}

static int read_table(struct catalogue *catalogue, struct row_tally *tally,
                      struct fits_reader *reader, const struct read_task *task, struct error *err)
{
    int code = 0;
    for (int i = 0; i < PART_COUNT && !code; i++) {
        reader->part[i].column = reader->columns->column[i] + 1;
        struct error why = {0};
        if (reader->part[i].column > 0 && prepare_part(reader, (enum star_part)i, &why)) {
            if (why.code == ERROR_MEMORY || is_needed((enum star_part)i, task->wanted)) {
                code = error_set(err, why.code, "%s", why.text);
            }
            reader->part[i].column = 0;
            reader->columns->column[i] = -1;
        }
    }
    reader->star = malloc(BLOCK_ROWS * sizeof *reader->star);
    if (!code && !reader->star) {
        code = error_memory(err);
    }
    if (!code) {
        code = read_rows(catalogue, tally, reader, task, err);
    }
    for (int i = 0; i < PART_COUNT; i++) {
        free(reader->part[i].value);
        free(reader->part[i].whole);
        free(reader->part[i].text);
    }
    free(reader->star);
    return code;
}

int read_fits_table_stars(struct catalogue *catalogue, struct row_tally *tally,
                          struct star_columns *columns, const char *path,
                          const struct read_task *task, struct error *err)
{
    struct fits_reader reader = {.name = task->name, .columns = columns};
    int status = 0;
    int code = fits_name_open(&reader.file, path, &status, err);
    if (code) {
        return code;
    }
    if (status) {
        return refuse_fits(task->name, "the FITS file cannot be opened", status, err);
    }
    struct column_list list = {.table = task->name};
    code = find_table(columns, reader.file, &list, task, err);
    column_list_free(&list);
    code = code ? code : refuse_packed(reader.file, task->name, err);
    if (!code) {
        code = read_table(catalogue, tally, &reader, task, err);
    }
    status = 0;
    fits_close_file(reader.file, &status);
    fits_clear_errmsg();
    return code;
}
