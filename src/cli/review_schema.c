#include "cli/review_schema.h"

#include "base/schema_rows.h"
#include "cli/parts_schema.h"
#include "night/emergence.h"
#include "night/review.h"

static const char *clock_word(int clock)
{
    static const char *const clocks[] = {"none", "file", "local", "utc"};
    return clocks[clock];
}

static const char *verdict_word(int verdict)
{
    return judge_word((enum judge_verdict)verdict);
}

/* Without JUDGE_NOTHING, which has no word. */
static const char *cause_word(int cause)
{
    return judge_cause_key((enum judge_cause)(cause + 1));
}

static const char *kind_word(int kind)
{
    return frame_kind_key((enum frame_kind)kind);
}

static const char *event_word(int event)
{
    static const char *const events[REVIEW_EVENTS] = {"recentred", "knocked", "gap",       "cloud",
                                                      "focus",     "trails",  "bright-sky"};
    return events[event];
}

static const struct schema_row counts_rows[] = {
    {ROW_INTEGER("keep", "worth stacking")},
    {ROW_INTEGER("doubtful", "worth a look")},
    {ROW_INTEGER("drop", "not worth stacking")},
    {ROW_INTEGER("apart", "calibration frames, and what shows no sky")},
    {0},
};
static const struct schema counts_schema = {.row = counts_rows};

static const struct schema_row cause_rows[] = {
    {ROW_WORD("cause", JUDGE_CAUSES - 1, cause_word, "why they are not kept")},
    {ROW_INTEGER("frames", "doubtful and dropped ones")},
    {0},
};
static const struct schema cause_schema = {.row = cause_rows};

static const struct schema_row kind_rows[] = {
    {ROW_WORD("kind", KIND_SCENE + 1, kind_word, "as in health")},
    {ROW_INTEGER("frames", "of those apart")},
    {0},
};
static const struct schema kind_schema = {.row = kind_rows};

static const struct schema_row start_rows[] = {
    {ROW_TEXT("start_utc", "when the exposure began, UTC"), ROW_SOMETIMES},
    {ROW_TEXT("start_local", "the same by the camera's clock"), ROW_SOMETIMES},
    {0},
};
static const struct schema start_schema = {.row = start_rows};

static const struct schema_row night_rows[] = {
    {ROW_WORD("clock", NIGHT_CLOCK_UTC + 1, clock_word,
              "what times rest on: UTC, the camera's clock, or when files were written")},
    {ROW_INCLUDE(start_schema), ROW_SOMETIMES},
    {ROW_NUMBER("length_s", 1, "s", "from the first start to the last end")},
    {ROW_INTEGER("batches", "between re-centrings")},
    {ROW_NUMBER("light_s", 1, "s", "exposure of all frames of the sky")},
    {ROW_NUMBER("kept_s", 1, "s", "exposure of the kept ones")},
    {ROW_NUMBER("cadence_s", 3, "s", "usual time from one start to the next"), ROW_OR_NULL},
    {ROW_NUMBER("drift_px_s", 4, "px/s", "usual speed of the sky in the frame"), ROW_OR_NULL},
    {0},
};
static const struct schema night_schema = {.row = night_rows};

static const struct schema_row usual_rows[] = {
    {ROW_INTEGER("frames", "solved frames of the sky")},
    {ROW_NUMBER("stars", 1, NULL, "stars found"), ROW_OR_NULL},
    {ROW_NUMBER("width_px", 3, "px", "width of stars at half height"), ROW_OR_NULL},
    {ROW_NUMBER("length_px", 3, "px", "length of stars with their trail"), ROW_OR_NULL},
    {ROW_NUMBER("sky", 4, NULL, "level of the sky, of a second where that is known"), ROW_OR_NULL},
    {0},
};
static const struct schema usual_schema = {.row = usual_rows};

static const struct schema_row target_rows[] = {
    {ROW_TEXT("name", "as asked for")},
    {ROW_NUMBER("ra_deg", 6, "deg", "right ascension, ICRS")},
    {ROW_NUMBER("dec_deg", 6, "deg", "declination, ICRS")},
    {ROW_NUMBER("middle_share", 4, NULL, "of the kept time in the middle ninth of the frame"),
     ROW_OR_NULL},
    {ROW_NUMBER("outside_share", 4, NULL, "of the kept time outside of it"), ROW_OR_NULL},
    {0},
};
static const struct schema target_schema = {.row = target_rows};

static const struct schema_row crop_rows[] = {
    {ROW_NUMBER("x", 0, "px", "its left edge, in the reference frame")},
    {ROW_NUMBER("y", 0, "px", "its upper edge")},
    {ROW_NUMBER("width", 0, "px", "of the rectangle")},
    {ROW_NUMBER("height", 0, "px", "of the rectangle")},
    {ROW_NUMBER("target_rim", 4, NULL, "of the target's rim that lies in it"), ROW_SOMETIMES},
    {0},
};
static const struct schema crop_schema = {.row = crop_rows};

static const struct schema_row cover_rows[] = {
    {ROW_TEXT("reference", "the best frame: align to it")},
    {ROW_NUMBER("common_share", 4, NULL, "of its area that all kept frames show")},
    {ROW_OBJECT("crop", crop_schema,
                "upright rectangle in every kept frame, the largest of those that hold the target"),
     ROW_SOMETIMES},
    {0},
};
static const struct schema cover_schema = {.row = cover_rows};

static const struct schema_row frame_rows[] = {
    {ROW_TEXT("frame", "the file as named")},
    {ROW_WORD("verdict", JUDGE_VERDICTS, verdict_word, "what to do with it")},
    {ROW_WORD("cause", JUDGE_CAUSES - 1, cause_word, "what that rests on"), ROW_SOMETIMES},
    {ROW_TEXT("reason", "the same as a sentence"), ROW_SOMETIMES},
    {ROW_INCLUDE(start_schema), ROW_SOMETIMES},
    {ROW_INTEGER("batch", "from 1; 0: before the first frame that is solved")},
    {ROW_NUMBER("exposure_s", 6, "s", "exposure time"), ROW_SOMETIMES},
    {ROW_NUMBER("iso", 0, NULL, "ISO speed"), ROW_SOMETIMES},
    {ROW_NUMBER("ra_deg", 6, "deg", "right ascension of its middle, ICRS"), ROW_SOMETIMES},
    {ROW_NUMBER("dec_deg", 6, "deg", "declination of its middle, ICRS"), ROW_SOMETIMES},
    {ROW_OBJECT("pixel", pixel_schema, "where the target is in it"), ROW_SOMETIMES},
    {ROW_INTEGER("detected", "stars found"), ROW_SOMETIMES},
    {ROW_NUMBER("fwhm_px", 3, "px", "width of stars at half height"), ROW_OR_NULL},
    {ROW_NUMBER("elongation", 3, NULL, "length of stars over their width"), ROW_OR_NULL},
    {ROW_NUMBER("trail_px", 2, "px", "how long stars are beyond their width"), ROW_OR_NULL},
    {ROW_NUMBER("sky_level", 4, NULL, "level of the sky"), ROW_OR_NULL},
    {ROW_NUMBER("limit_mag", 2, "mag", "V of stars at 5 times the noise"), ROW_OR_NULL},
    {ROW_INTEGER("crossings", "satellites and aeroplanes in it")},
    {0},
};
static const struct schema frame_schema = {.row = frame_rows};

static const struct schema_row event_rows[] = {
    {ROW_WORD("event", REVIEW_EVENTS, event_word, "what happened")},
    {ROW_TEXT("text", "the same in words")},
    {ROW_INTEGER("first", "first frame of it, or after it: place in frames, from 0")},
    {ROW_INTEGER("last", "last frame of it: place in frames")},
    {ROW_NUMBER("moved_deg", 4, "deg", "by which the camera was turned"), ROW_SOMETIMES},
    {ROW_NUMBER("missed_s", 1, "s", "without a frame"), ROW_SOMETIMES},
    {ROW_NUMBER("usual_share", 3, NULL, "of the usual, at its worst"), ROW_SOMETIMES},
    {0},
};
static const struct schema event_schema = {.row = event_rows};

static const struct schema_row darks_rows[] = {
    {ROW_NUMBER("exposure_s", 6, "s", "of the lights")},
    {ROW_NUMBER("iso", 0, NULL, "ISO speed of the lights"), ROW_SOMETIMES},
    {ROW_INTEGER("lights", "lights that need them")},
    {ROW_INTEGER("darks", "dark frames that are there")},
    {ROW_INTEGER("wanted", "dark frames that are enough")},
    {0},
};
static const struct schema darks_schema = {.row = darks_rows};

static const struct schema_row copies_rows[] = {
    {ROW_INTEGER("frames", "that were found in more than one place, and count once")},
    {ROW_INTEGER("places", "all places of these")},
    {0},
};
static const struct schema copies_schema = {.row = copies_rows};

static const struct schema_row rows[] = {
    {ROW_FORMAT},
    {ROW_TEXT("answer", "how many frames to keep, in words")},
    {ROW_OBJECT("counts", counts_schema, "frames by verdict")},
    {ROW_OBJECTS("causes", cause_schema, "why frames are not kept")},
    {ROW_OBJECTS("kinds", kind_schema, "what the frames apart are")},
    {ROW_OBJECT("copies", copies_schema, "files with the same content"), ROW_SOMETIMES},
    {ROW_INTEGER("unread_by_device", "frames that the disk, card or network failed to read")},
    {ROW_INTEGER("crossed", "frames that satellites or aeroplanes crossed")},
    {ROW_OBJECT("night", night_schema, "the night")},
    {ROW_OBJECT("clock_doubt", clock_doubt_schema, "why the camera's clock seems wrong"),
     ROW_SOMETIMES},
    {ROW_OBJECT("planned_hours", hours_schema, "of the plan of the night"), ROW_SOMETIMES},
    {ROW_OBJECT("usual", usual_schema, "medians of the night")},
    {ROW_OBJECT("target", target_schema, "the target, if one was asked for"), ROW_SOMETIMES},
    {ROW_OBJECT("cover", cover_schema, "what the kept frames have in common"), ROW_SOMETIMES},
    {ROW_OBJECT("stack", emergence_schema, "the target in the kept frames laid over each other"),
     ROW_SOMETIMES},
    {ROW_OBJECTS("frames", frame_schema, "in the order of time")},
    {ROW_OBJECTS("events", event_schema, "what happened")},
    {ROW_OBJECTS("darks", darks_schema, "dark frames for the lights")},
    {ROW_TEXTS("advice", "what to do better next time, the most useful first")},
    {0},
};
const struct schema review_schema = {
    .name = "review", .text = "What a night's frames are worth.", .row = rows};
