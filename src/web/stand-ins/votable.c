/* A page makes its index from the stars that it brings, which are plain text. */
#include "input.h"
#include "read_stars.h"

int read_votable_stars(struct catalogue *catalogue, struct row_tally *tally,
                       struct star_columns *columns, struct input *input,
                       const struct read_task *task, struct error *err)
{
    (void)catalogue;
    (void)tally;
    (void)columns;
    (void)input;
    (void)task;
    return error_set(err, ERROR_INPUT, "a page reads no VOTable; expected a table of text");
}
