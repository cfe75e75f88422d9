#include "page/live_schema.h"

#include "base/schema_rows.h"
#include "night/alerts.h"
#include "night/judge.h"

static const char *alert_word(int kind)
{
    return alert_key((enum alert_kind)kind);
}

static const char *verdict_word(int verdict)
{
    return judge_word((enum judge_verdict)verdict);
}

static const struct schema_row act_rows[] = {
    {ROW_TEXT("text", "what to do, in at most six words")},
    {ROW_BOOL("now", "it is due")},
    {ROW_NUMBER("frames", 1, NULL, "until it is due"), ROW_SOMETIMES},
    {ROW_NUMBER("due_s", 1, "s", "the same from when this was made"), ROW_SOMETIMES},
    {0},
};
static const struct schema act_schema = {.row = act_rows};

static const struct schema_row alert_rows[] = {
    {ROW_INTEGER("id", "rises with each alert of this run")},
    {ROW_WORD("alert", ALERT_KINDS, alert_word, "what has begun")},
    {ROW_BOOL("loud", "somebody has to do something")},
    {ROW_TEXT("title", "its heading")},
    {ROW_TEXT("text", "a sentence")},
    {ROW_INTEGER("frame", "number of the frame that it came with")},
    {0},
};
static const struct schema live_alert_schema = {.row = alert_rows};

static const struct schema_row moved_rows[] = {
    {ROW_TEXT("text", "how far the camera was turned, of what was advised")},
    {ROW_INTEGER("frame", "number of the frame that shows it")},
    {0},
};
static const struct schema moved_schema = {.row = moved_rows};

static const struct schema_row spot_rows[] = {
    {ROW_NUMBER("x", 2, "px", "to the right")},
    {ROW_NUMBER("y", 2, "px", "down")},
    {0},
};
static const struct schema spot_schema = {.row = spot_rows};

static const struct schema_row target_rows[] = {
    {ROW_TEXT("name", "what is to be in the frame")},
    {ROW_OBJECT("at", spot_schema, "its middle"), ROW_SOMETIMES},
    {ROW_OBJECT("goal", spot_schema, "its middle after the move"), ROW_SOMETIMES},
    {.key = "outline",
     .kind = SCHEMA_NUMBERS,
     .decimals = 1,
     .unit = "px",
     .text = "x, y, x, y, ..."},
    {0},
};
static const struct schema target_schema = {.row = target_rows};

static const struct schema_row star_rows[] = {
    {ROW_TEXT("name", "of the star to move")},
    {ROW_NUMBER("x", 2, "px", "where it is")},
    {ROW_NUMBER("y", 2, "px", "where it is")},
    {ROW_NUMBER("to_x", 2, "px", "where it is to go")},
    {ROW_NUMBER("to_y", 2, "px", "where it is to go")},
    {ROW_TEXT("mark", "the star that is there now"), ROW_SOMETIMES},
    {0},
};
static const struct schema star_schema = {.row = star_rows};

static const struct schema_row dot_rows[] = {
    {ROW_NUMBER("x", 1, "px", "to the right")},
    {ROW_NUMBER("y", 1, "px", "down")},
    {ROW_NUMBER("mag", 1, NULL, "V magnitude")},
    {0},
};
static const struct schema dot_schema = {.row = dot_rows};

static const struct schema_row path_rows[] = {
    {ROW_INTEGER("frames", "after so many frames")},
    {ROW_NUMBER("x", 1, "px", "where the target is then, if nobody touches the tripod")},
    {ROW_NUMBER("y", 1, "px", "where the target is then, if nobody touches the tripod")},
    {0},
};
static const struct schema path_schema = {.row = path_rows};

static const struct schema_row drawing_rows[] = {
    {ROW_INTEGER("width", "px of the frame")},
    {ROW_INTEGER("height", "px of the frame")},
    {ROW_NUMBER("safe_px", 1, "px", "width of the margin along each edge")},
    {ROW_OBJECT("target", target_schema, "where it is")},
    {ROW_OBJECT("star", star_schema, "a star to move, to check the move by"), ROW_SOMETIMES},
    {ROW_OBJECTS("stars", dot_schema, "the brightest, brightest first")},
    {ROW_OBJECTS("path", path_schema, "the target in coming frames")},
    {0},
};
const struct schema live_drawing_schema = {.row = drawing_rows};

static const struct schema_row last_rows[] = {
    {ROW_TEXT("name", "of the file")},
    {ROW_TEXT("clock", "when it was taken, by the camera's clock")},
    {ROW_WORD("verdict", JUDGE_VERDICTS, verdict_word, "keep, doubtful, drop or apart")},
    {ROW_TEXT("text", "why, or what there is to say for it")},
    {ROW_BOOL("solved", "it was solved")},
    {ROW_INTEGER("stars", "found")},
    {ROW_NUMBER("since_s", 1, "s", "since it came"), ROW_OR_NULL},
    {0},
};
static const struct schema last_schema = {.row = last_rows};

static const struct schema_row glimpse_rows[] = {
    {ROW_TEXT("text", "how the target stands in the stack, beside what was promised")},
    {ROW_TEXT("frames", "what is in it, and that it is a glimpse")},
    {ROW_INTEGER("width", "px of its picture")},
    {ROW_INTEGER("height", "px of its picture")},
    {.key = "outline",
     .kind = SCHEMA_NUMBERS,
     .decimals = 1,
     .unit = "px",
     .text = "of the target in it: x, y, x, y, ..."},
    {0},
};
static const struct schema glimpse_schema = {.row = glimpse_rows};

static const struct schema_row light_rows[] = {
    {ROW_NUMBER("got_s", 1, "s", "of exposure, of frames to keep")},
    {ROW_INTEGER("kept", "frames to keep")},
    {ROW_NUMBER("wanted_s", 1, "s", "of exposure"), ROW_SOMETIMES},
    {0},
};
static const struct schema light_schema = {.row = light_rows};

static const struct schema_row rows[] = {
    {ROW_FORMAT},
    {ROW_TEXT("target", "what the frames are of")},
    {ROW_TEXT("target_next", "from the next frame on"), ROW_SOMETIMES},
    {ROW_INTEGER("batch", "frames from one re-centring to the next"), ROW_SOMETIMES},
    {ROW_INTEGER("frames", "that have come, those of the log included")},
    {ROW_OBJECT("act", act_schema, "what to do next")},
    {ROW_OBJECT("then", act_schema, "the re-centring that follows it"), ROW_SOMETIMES},
    {ROW_OBJECTS("alerts", live_alert_schema, "that are not resolved, newest first")},
    {ROW_OBJECT("moved", moved_schema, "the latest move"), ROW_SOMETIMES},
    {ROW_OBJECT("drawing", live_drawing_schema, "of the latest solved frame"), ROW_SOMETIMES},
    {ROW_INTEGER("drawing_frame", "its number"), ROW_SOMETIMES},
    {ROW_OBJECT("last", last_schema, "the latest frame"), ROW_SOMETIMES},
    {ROW_TEXT("ribbon", "a letter per frame: k keep, d doubtful, x drop, a apart")},
    {ROW_OBJECT("light", light_schema, "so far")},
    {ROW_OBJECT("glimpse", glimpse_schema, "the frames laid over each other, with --stack"),
     ROW_SOMETIMES},
    {ROW_TEXT("trouble", "what the watch has to say of itself"), ROW_SOMETIMES},
    {0},
};
const struct schema live_schema = {
    .name = "page", .text = "How the night stands, as the page of watch is given it.", .row = rows};

static const struct schema_row sight_rows[] = {
    {ROW_BOOL("solved", "it was")},
    {ROW_TEXT("text", "where it points, or why it was not solved")},
    {ROW_NUMBER("ra_deg", 4, "°", "of the middle, ICRS"), ROW_SOMETIMES},
    {ROW_NUMBER("dec_deg", 4, "°", "of the middle, ICRS"), ROW_SOMETIMES},
    {ROW_TEXT("move", "what centres the target"), ROW_SOMETIMES},
    {ROW_TEXT("verdict", "whether the target is in the picture"), ROW_SOMETIMES},
    {ROW_OBJECT("drawing", live_drawing_schema, "of the picture"), ROW_SOMETIMES},
    {0},
};
const struct schema live_sight_schema = {.name = "page_picture",
                                         .text =
                                             "The answer to a picture that was sent to the page.",
                                         .row = sight_rows};

static const struct schema_row other_rows[] = {
    {ROW_TEXT("id", "what to ask for")},
    {ROW_TEXT("name", "with its usual name")},
    {ROW_TEXT("hours", "when it is best, by the clock of the place")},
    {ROW_NUMBER("altitude_deg", 0, "°", "at its highest then")},
    {ROW_TEXT("why", "what speaks for it")},
    {0},
};
static const struct schema other_schema = {.row = other_rows};

static const struct schema_row others_rows[] = {
    {ROW_TEXT("text", "what the list is of, or why there is none")},
    {ROW_OBJECTS("others", other_schema, "best first")},
    {0},
};
const struct schema live_others_schema = {.name = "page_others",
                                          .text =
                                              "What else is up, as the page of watch is given it.",
                                          .row = others_rows};
