#include "cli/aim_schema.h"

#include "base/schema_rows.h"
#include "cli/parts_schema.h"
#include "night/night_frame.h"
#include "plan/signal_words.h"
#include "tripod/aim.h"
#include "tripod/drift.h"
#include "tripod/head.h"

const char *aim_room_key(int room)
{
    static const char *const rooms[] = {"no", "perhaps", "yes"};
    return rooms[room];
}

static const char *verdict_word(int verdict)
{
    return aim_verdict_key((enum aim_verdict)verdict);
}

static const char *edge_word(int edge)
{
    return frame_edge_word((enum frame_edge)edge);
}

static const char *refused_word(int refused)
{
    static const char *const words[] = {"sun", "time"};
    return words[refused];
}

static const struct schema_row target_rows[] = {
    {ROW_TEXT("name", "as asked for")},
    {ROW_NUMBER("ra_deg", 6, "deg", "right ascension, ICRS; of what moves, when it is known")},
    {ROW_NUMBER("dec_deg", 6, "deg", "declination, ICRS")},
    {ROW_NUMBER("major_deg", 4, "deg", "its length, if it has a size"), ROW_SOMETIMES},
    {ROW_NUMBER("minor_deg", 4, "deg", "its breadth"), ROW_SOMETIMES},
    {ROW_NUMBER("angle_deg", 1, "deg", "of its length, east of north, if known"), ROW_SOMETIMES},
    {0},
};
static const struct schema target_schema = {.row = target_rows};

static const struct schema_row turn_rows[] = {
    {ROW_NUMBER("right_deg", 5, "deg", "first about the camera's upright side")},
    {ROW_NUMBER("up_deg", 5, "deg", "then about its level one")},
    {ROW_NUMBER("right_fields", 4, NULL, "right_deg over the width of the field")},
    {ROW_NUMBER("up_fields", 4, NULL, "up_deg over its height")},
    {0},
};
static const struct schema turn_schema = {.row = turn_rows};

static const struct schema_row place_rows[] = {
    {ROW_NUMBER("latitude_deg", 6, "deg", "north positive")},
    {ROW_NUMBER("longitude_deg", 6, "deg", "east positive")},
    {ROW_NUMBER("height_m", 1, "m", "above the ellipsoid")},
    {ROW_NUMBER("pressure_hpa", 1, "hPa", "of the air; 0: no refraction")},
    {ROW_NUMBER("temperature_c", 1, "C", "of the air")},
    {0},
};
static const struct schema place_schema = {.row = place_rows};

static const struct schema_row horizon_rows[] = {
    {ROW_NUMBER("azimuth_deg", 4, "deg", "from north through east")},
    {ROW_NUMBER("altitude_deg", 4, "deg", "above the horizon, as seen through the air")},
    {0},
};
static const struct schema horizon_schema = {.row = horizon_rows};

static const struct schema_row camera_horizon_rows[] = {
    {ROW_INCLUDE(horizon_schema)},
    {ROW_NUMBER("roll_deg", 4, "deg", "clockwise, seen from behind")},
    {0},
};
static const struct schema camera_horizon_schema = {.row = camera_horizon_rows};

static const struct schema_row hiding_rows[] = {
    {ROW_BOOL("hidden", "the target's middle is behind it now")},
    {ROW_NUMBER("hides_s", 1, "s", "when it goes behind it"), ROW_SOMETIMES},
    {ROW_NUMBER("appears_s", 1, "s", "when it comes out"), ROW_SOMETIMES},
    {ROW_NUMBER("azimuth_deg", 2, "deg", "there, from north through east"), ROW_SOMETIMES},
    {ROW_INTEGER("frames", "so many frames until then"), ROW_SOMETIMES},
    {0},
};
static const struct schema hiding_schema = {.row = hiding_rows};

static const struct schema_row sun_rows[] = {
    {ROW_NUMBER("altitude_deg", 2, "deg", "of the Sun")},
    {ROW_NUMBER("from_target_deg", 2, "deg", "its distance from the target")},
    {ROW_NUMBER("from_way_deg", 2, "deg", "its distance from the way there")},
    {0},
};
static const struct schema sun_schema = {.row = sun_rows};

static const struct schema_row cue_rows[] = {
    {ROW_TEXT("star", "name of the star"), ROW_SOMETIMES},
    {ROW_NUMBER("x", 1, "px", "where it is")},
    {ROW_NUMBER("y", 1, "px", "where it is")},
    {ROW_NUMBER("to_x", 1, "px", "where it is to go")},
    {ROW_NUMBER("to_y", 1, "px", "where it is to go")},
    {ROW_TEXT("mark", "a star that stands there now"), ROW_SOMETIMES},
    {0},
};
static const struct schema cue_schema = {.row = cue_rows};

static const struct schema_row drift_rows[] = {
    {ROW_NUMBER("right_px_s", 4, "px/s", "of the target's centre")},
    {ROW_NUMBER("up_px_s", 4, "px/s", "of the target's centre")},
    {ROW_BOOL("inside", "the whole target is in the safe part of the frame")},
    {ROW_NUMBER("leaves_s", 1, "s", "when it leaves that"), ROW_SOMETIMES},
    {ROW_NUMBER("enters_s", 1, "s", "when it enters it"), ROW_SOMETIMES},
    {ROW_NUMBER("leaves_s_error", 3, "s", "of leaves_s, one sigma"), ROW_SOMETIMES},
    {ROW_NUMBER("enters_s_error", 3, "s", "of enters_s, one sigma"), ROW_SOMETIMES},
    {ROW_WORD("edge", EDGE_BOTTOM + 1, edge_word, "through which edge"), ROW_SOMETIMES},
    {ROW_INTEGER("frames", "so many frames until then"), ROW_SOMETIMES},
    {0},
};
static const struct schema drift_schema = {.row = drift_rows};

static const struct schema_row step_rows[] = {
    {ROW_INTEGER("frames", "after so many frames")},
    {ROW_NUMBER("x", 2, "px", "to the right")},
    {ROW_NUMBER("y", 2, "px", "down")},
    {0},
};
static const struct schema step_schema = {.row = step_rows};

static const struct schema_row lead_rows[] = {
    {ROW_INTEGER("frames", "of the batch")},
    {ROW_INCLUDE(angles_schema)},
    {ROW_OBJECT("target_at_start", off_middle_schema, "where the target is to be then")},
    {ROW_NUMBER("frames_error", 4, NULL, "of frames as a length of time, one sigma"),
     ROW_SOMETIMES},
    {ROW_NUMBER("mean_px", 2, "px", "how far the target is off the middle, on average")},
    {ROW_NUMBER("spread_px", 2, "px", "how far it moves about that")},
    {0},
};
static const struct schema lead_schema = {.row = lead_rows};

static const struct schema_row smear_rows[] = {
    {ROW_NUMBER("turn_s", 1, "s", "if frames are aligned by shift and turn"), ROW_OR_NULL},
    {ROW_NUMBER("affine_s", 1, "s", "if they may be stretched"), ROW_OR_NULL},
    {ROW_NUMBER("homography_s", 1, "s", "if perspective is fitted"), ROW_OR_NULL},
    {ROW_NUMBER("turn_s_error", 3, "s", "of turn_s, one sigma"), ROW_SOMETIMES},
    {ROW_NUMBER("affine_s_error", 3, "s", "of affine_s, one sigma"), ROW_SOMETIMES},
    {ROW_NUMBER("homography_s_error", 3, "s", "of homography_s, one sigma"), ROW_SOMETIMES},
    {0},
};
static const struct schema smear_schema = {.row = smear_rows};

static const struct schema_row ahead_rows[] = {
    {ROW_NUMBER("cadence_s", 3, "s", "from the start of a frame to that of the next"),
     ROW_SOMETIMES},
    {ROW_BOOL("every_guessed", "that is exposure and a second"), ROW_SOMETIMES},
    {ROW_OBJECT("drift", drift_schema, "how the sky moves if nothing is touched")},
    {ROW_OBJECTS("path", step_schema, "where the target will be, then")},
    {ROW_OBJECT("drift_after_move", drift_schema, "the same after the move"), ROW_SOMETIMES},
    {ROW_OBJECT("lead", lead_schema, "the move that centres the batch asked for"), ROW_SOMETIMES},
    {ROW_OBJECT("longest_batch", lead_schema, "the move that gives most frames"), ROW_SOMETIMES},
    {ROW_OBJECT("smear", smear_schema, "time in which edges of a stack smear by the limit")},
    {0},
};
const struct schema aim_ahead_schema = {.row = ahead_rows};

static const struct schema_row depth_rows[] = {
    {ROW_BOOL("known", "the rest is")},
    {ROW_TEXT("why", "why it is not"), ROW_SOMETIMES},
    {ROW_INCLUDE(signal_schema), ROW_SOMETIMES},
    {ROW_BOOL("read_noise_told", "by the settings file"), ROW_SOMETIMES},
    {ROW_NUMBER("electrons_a_value", 4, "electron", "that a unit of the file is worth"),
     ROW_SOMETIMES, ROW_OR_NULL},
    {ROW_INTEGER("stack", "frames asked for"), ROW_SOMETIMES},
    {ROW_NUMBER("snr_stack", 4, NULL, "signal to noise of a pixel in them"), ROW_SOMETIMES},
    {ROW_NUMBER("limit_mag", 2, "mag", "V of stars that show in this frame"), ROW_OR_NULL},
    {0},
};
static const struct schema depth_schema = {.row = depth_rows};

static const struct schema_row sight_rows[] = {
    {ROW_WORD("in_frame", AIM_WHOLE + 1, verdict_word, "how much of the target is in the frame")},
    {ROW_NUMBER("share", 4, NULL, "of its area that is in the frame")},
    {ROW_BOOL("margin_kept", "it keeps the margin from the edges")},
    {ROW_WORD("fits", AIM_FITS + 1, aim_room_key, "whether it would fit if it were centred")},
    {ROW_OBJECT("pixel", pixel_schema, "its centre; also outside the picture"), ROW_SOMETIMES},
    {ROW_OBJECT("from_middle", off_middle_schema, "the same from the middle"), ROW_SOMETIMES},
    {ROW_OBJECT("turn", turn_schema, "of the camera, which centres the target")},
    {ROW_NUMBER("separation_deg", 5, "deg", "of the target from the middle")},
    {ROW_NUMBER("position_angle_deg", 3, "deg", "of the target from the middle"), ROW_OR_NULL},
    {ROW_TEXT("mid_utc", "the middle of the exposure"), ROW_SOMETIMES},
    {ROW_OBJECT("planned_hours", hours_schema, "of the plan of the night"), ROW_SOMETIMES},
    {ROW_OBJECT("place", place_schema, "where the camera stands"), ROW_SOMETIMES},
    {ROW_OBJECT("clock_doubt", clock_doubt_schema, "why the camera's clock seems wrong"),
     ROW_SOMETIMES},
    {ROW_NUMBER("sun_would_be_at_deg", 2, "deg", "altitude that shows the clock to be wrong"),
     ROW_SOMETIMES},
    {ROW_OBJECT("camera_horizon", camera_horizon_schema, "where the camera points"), ROW_SOMETIMES},
    {ROW_OBJECT("target_horizon", horizon_schema, "where the target is"), ROW_SOMETIMES},
    {ROW_OBJECT("skyline", hiding_schema, "of the place: when it hides the target"), ROW_SOMETIMES},
    {ROW_OBJECT("move", move_schema, "of the head, which centres the target"), ROW_SOMETIMES},
    {ROW_NUMBER("pan_right_deg_error", 6, "deg", "of the move that heads the advice, one sigma"),
     ROW_SOMETIMES},
    {ROW_NUMBER("tilt_up_deg_error", 6, "deg", "likewise"), ROW_SOMETIMES},
    {ROW_OBJECT("head", head_schema, "the axes it turns about"), ROW_SOMETIMES},
    {ROW_NUMBER("clock_minute_deg", 4, "deg", "how far a minute's error of the clock leads astray"),
     ROW_SOMETIMES},
    {ROW_OBJECT("clock_if_level", clock_schema, "error of the clock, from the levelled camera"),
     ROW_SOMETIMES},
    {ROW_OBJECT("sun", sun_schema, "a Sun that is near the way"), ROW_SOMETIMES},
    {ROW_OBJECT("guide", cue_schema, "a star to put where it belongs"), ROW_SOMETIMES},
    {ROW_INCLUDE(aim_ahead_schema)},
    {ROW_OBJECT("depth", depth_schema, "how the target will show"), ROW_SOMETIMES},
    {0},
};
static const struct schema sight_schema = {.row = sight_rows};

static const struct schema_row aim_rows[] = {
    {ROW_INCLUDE(night_frame_head_schema)},
    {ROW_OBJECT("target", target_schema, "what should be in the middle"), ROW_SOMETIMES},
    {ROW_WORD(
         "refused", 2, refused_word,
         "why there is no advice: the Sun is there, or the target moves and the time is not known"),
     ROW_SOMETIMES},
    {ROW_INCLUDE(sight_schema), ROW_SOMETIMES},
    {ROW_INCLUDE(night_frame_details_schema), ROW_SOMETIMES},
    {0},
};
const struct schema aim_schema = {
    .name = "aim", .text = "What aim advises for a frame.", .row = aim_rows};

static const struct schema_row series_inner_rows[] = {
    {ROW_INTEGER("frames", "solved, and with a time")},
    {ROW_NUMBER("span_s", 2, "s", "from the first to the last")},
    {ROW_NUMBER("measured_cadence_s", 3, "s", "usual time from one to the next"), ROW_OR_NULL},
    {ROW_TEXT("still_from", "first frame since which the tripod was not disturbed")},
    {ROW_NUMBER("still_px", 2, "px", "how well frames since then agree")},
    {ROW_TEXT("clock_jump_before", "frame before which the clock was set"), ROW_SOMETIMES},
    {ROW_NUMBER("clock_jump_s", 1, "s", "ahead by this"), ROW_SOMETIMES},
    {ROW_TEXT("last", "the last frame, from which the rest is reckoned")},
    {ROW_INCLUDE(aim_ahead_schema)},
    {0},
};
static const struct schema series_inner_schema = {.row = series_inner_rows};

static const struct schema_row series_rows[] = {
    {ROW_FORMAT},
    {ROW_OBJECT("series", series_inner_schema, "of frames")},
    {0},
};
const struct schema aim_series_schema = {
    .name = "series", .text = "The last line of aim for several frames.", .row = series_rows};

static const char *axis_word(int axis)
{
    return axis == HEAD_PAN ? "pan" : "tilt";
}

static const struct schema_row learned_inner_rows[] = {
    {ROW_TEXT("name", "as in the settings file")},
    {ROW_WORD("learned", HEAD_TILT + 1, axis_word, "which axis was learned")},
    {ROW_NUMBER("turned_deg", 4, "deg", "between the frames farthest apart")},
    {ROW_NUMBER("lean_east_deg", 4, "deg", "the pan axis leans east by this")},
    {ROW_NUMBER("lean_north_deg", 4, "deg", "the pan axis leans north by this")},
    {ROW_NUMBER("skew_deg", 4, "deg", "right end of the tilt axis above square to the pan axis")},
    {ROW_NUMBER("squint_deg", 4, "deg", "right end of the tilt axis ahead of square to the lens")},
    {ROW_NUMBER("error_deg", 4, "deg", "standard error of the axis")},
    {ROW_OBJECT("clock_if_level", clock_schema, "error of the clock if the head was level"),
     ROW_SOMETIMES},
    {ROW_TEXT("file", "the settings file that keeps it")},
    {0},
};
static const struct schema learned_inner_schema = {.row = learned_inner_rows};

static const struct schema_row learned_rows[] = {
    {ROW_FORMAT},
    {ROW_OBJECT("head", learned_inner_schema, "what was learned")},
    {0},
};
const struct schema learned_head_schema = {
    .name = "learned", .text = "What aim --learn-head found.", .row = learned_rows};

static const struct schema_row point_rows[] = {
    {ROW_NUMBER("azimuth_deg", 2, "deg", "from true north through east")},
    {ROW_NUMBER("altitude_deg", 2, "deg", "of the upper edge there; not known to both neighbours"),
     ROW_OR_NULL},
    {0},
};
static const struct schema point_schema = {.row = point_rows};

static const struct schema_row skyline_rows[] = {
    {ROW_TEXT("place", "its name in the settings file")},
    {ROW_INTEGER("frames", "that it was learned from")},
    {ROW_INTEGER("stars", "of the catalogue that they show or hide")},
    {ROW_NUMBER("learned_deg", 1, "deg", "of azimuth in these frames")},
    {ROW_NUMBER("error_deg", 2, "deg", "of the altitudes there, rms"), ROW_OR_NULL},
    {ROW_OBJECTS("points", point_schema, "the whole skyline that is kept")},
    {ROW_TEXT("file", "the settings file that keeps it")},
    {0},
};
static const struct schema skyline_schema = {.row = skyline_rows};

static const struct schema_row learned_skyline_rows[] = {
    {ROW_FORMAT},
    {ROW_OBJECT("skyline", skyline_schema, "what was learned")},
    {0},
};
const struct schema learned_skyline_schema = {.name = "learned-skyline",
                                              .text = "What aim --learn-skyline found.",
                                              .row = learned_skyline_rows};
