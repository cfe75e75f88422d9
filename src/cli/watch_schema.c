#include "cli/watch_schema.h"

#include "base/schema_rows.h"
#include "cli/parts_schema.h"
#include "night/alerts.h"

static const char *kind_word(int kind)
{
    return alert_key((enum alert_kind)kind);
}

static const struct schema_row move_rows[] = {
    {ROW_INCLUDE(move_schema)},
    {ROW_BOOL("horizon", "by the head; else about the camera's own sides")},
    {0},
};
static const struct schema alert_move_schema = {.row = move_rows};

static const struct schema_row rows[] = {
    {ROW_WORD("alert", ALERT_KINDS, kind_word, "what has begun or ended")},
    {ROW_FORMAT},
    {ROW_BOOL("loud", "somebody has to do something")},
    {ROW_TEXT("text", "a sentence")},
    {ROW_TEXT("at", "the frame that it came with"), ROW_SOMETIMES},
    {ROW_INTEGER("again", "how often it was told before, without being followed"), ROW_SOMETIMES},
    {ROW_OBJECT("move", alert_move_schema, "what centres the target, if it is about that"),
     ROW_SOMETIMES},
    {0},
};
const struct schema alert_schema = {
    .name = "alert", .text = "An alert of watch, among the frames.", .row = rows};
