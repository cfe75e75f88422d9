#include "cli/plan_schema.h"

#include "base/schema_rows.h"
#include "plan/group.h"
#include "plan/plan.h"
#include "plan/signal_words.h"

static const char *hold_word(int hold)
{
    static const char *const holds[] = {"landscape", "portrait", "turned"};
    return holds[hold];
}

static const char *limit_word(int limit)
{
    return batch_limit_key((enum batch_limit)limit);
}

static const char *moon_word(int rises)
{
    return rises ? "rise" : "set";
}

static const struct schema_row span_rows[] = {
    {ROW_TEXT("start_utc", "when it begins")},
    {ROW_TEXT("end_utc", "when it ends")},
    {ROW_NUMBER("hours", 3, "h", "how long it lasts")},
    {0},
};
static const struct schema span_schema = {.row = span_rows};

static const struct schema_row event_rows[] = {
    {ROW_WORD("what", 2, moon_word, "rise or set")},
    {ROW_TEXT("utc", "when")},
    {0},
};
static const struct schema event_schema = {.row = event_rows};

static const struct schema_row moon_rows[] = {
    {ROW_NUMBER("lit", 3, NULL, "share of its disc")},
    {ROW_BOOL("waxing", "it grows")},
    {ROW_NUMBER("dark_hours_without", 3, "h", "of the dark without it in the sky")},
    {ROW_OBJECTS("events", event_schema, "when it rises and sets in the night")},
    {0},
};
static const struct schema moon_schema = {.row = moon_rows};

static const struct schema_row night_rows[] = {
    {ROW_NUMBER("latitude_deg", 5, "deg", "north positive")},
    {ROW_NUMBER("longitude_deg", 5, "deg", "east positive")},
    {ROW_NUMBER("utc_offset_min", 0, "min", "clock less UTC")},
    {ROW_TEXT("zone", "what clocks show, and whether they are changed in that night")},
    {ROW_OBJECT("dark", span_schema, "dark enough to take frames"), ROW_SOMETIMES},
    {ROW_OBJECT("own_hours", span_schema,
                "what was asked for, or is left of a night that has begun"),
     ROW_SOMETIMES},
    {ROW_OBJECT("own_dark", span_schema, "the part of these that is dark"), ROW_SOMETIMES},
    {ROW_OBJECT("sun_below_horizon", span_schema, "from sunset to sunrise"), ROW_SOMETIMES},
    {ROW_OBJECT("civil", span_schema, "the Sun more than 6 deg down"), ROW_SOMETIMES},
    {ROW_OBJECT("nautical", span_schema, "the Sun more than 12 deg down"), ROW_SOMETIMES},
    {ROW_OBJECT("astronomical", span_schema, "the Sun more than 18 deg down"), ROW_SOMETIMES},
    {ROW_NUMBER("sun_lowest_deg", 2, "deg", "altitude of the Sun when it is lowest")},
    {ROW_TEXT("dark_again", "of a night that is not as dark as is wanted: the evening of the next "
                            "one that is, YYYY-MM-DD"),
     ROW_SOMETIMES},
    {ROW_OBJECT("moon", moon_schema, "the Moon that night")},
    {0},
};
static const struct schema night_schema = {.row = night_rows};

static const struct schema_row camera_rows[] = {
    {ROW_NUMBER("focal_mm", 2, "mm", "focal length")},
    {ROW_NUMBER("f_number", 2, NULL, "aperture: focal length over it")},
    {ROW_NUMBER("zoom_shortest_mm", 2, "mm", "of a zoom"), ROW_SOMETIMES},
    {ROW_NUMBER("zoom_longest_mm", 2, "mm", "of a zoom"), ROW_SOMETIMES},
    {ROW_NUMBER("width_deg", 4, "deg", "of the field")},
    {ROW_NUMBER("height_deg", 4, "deg", "of the field")},
    {ROW_NUMBER("scale_arcsec_px", 4, "arcsec/px", "in the middle")},
    {0},
};
static const struct schema camera_schema = {.row = camera_rows};

static const char *zoom_word(int reason)
{
    return zoom_reason_key(reason);
}

static const struct schema_row frame_rows[] = {
    {ROW_NUMBER("focal_mm", 2, "mm", "focal length, of a zoom the one that suits it")},
    {ROW_NUMBER("f_number", 2, NULL, "aperture there")},
    {ROW_WORD(
        "zoom", ZOOM_TOO_LARGE + 1, zoom_word,
        "why that one: the longest, the longest that fits, the shortest, or even that too long")},
    {ROW_BOOL("fits", "the target and those with it fit into the frame")},
    {ROW_NUMBER("fill", 3, NULL, "how much of the frame's side they take"), ROW_OR_NULL},
    {ROW_NUMBER("size_share", 4, NULL, "the target's length over the frame's shorter side"),
     ROW_OR_NULL},
    {ROW_NUMBER("area_share", 5, NULL, "the target's area over the frame's"), ROW_OR_NULL},
    {ROW_NUMBER("ra_deg", 4, "deg", "where the middle is to be")},
    {ROW_NUMBER("dec_deg", 4, "deg", "where the middle is to be")},
    {ROW_WORD("hold", GROUP_TURNED + 1, hold_word, "how to hold the camera")},
    {ROW_NUMBER("roll_deg", 1, "deg", "clockwise, seen from behind"), ROW_OR_NULL},
    {ROW_NUMBER("up_angle_deg", 2, "deg", "position angle of picture-up"), ROW_OR_NULL},
    {0},
};
static const struct schema frame_schema = {.row = frame_rows};

static const struct schema_row smear_rows[] = {
    {ROW_NUMBER("turn", 3, "px", "if frames are aligned by shift and turn"), ROW_OR_NULL},
    {ROW_NUMBER("affine", 3, "px", "if they may be stretched"), ROW_OR_NULL},
    {ROW_NUMBER("homography", 3, "px", "if perspective is fitted"), ROW_OR_NULL},
    {0},
};
static const struct schema smear_schema = {.row = smear_rows};

static const struct schema_row shots_rows[] = {
    {ROW_NUMBER("exposure_s", 3, "s", "of each frame")},
    {ROW_NUMBER("trail_px", 2, "px", "that stars trail in it")},
    {ROW_NUMBER("rule_of_500_s", 3, "s", "the same by the 500 rule")},
    {ROW_NUMBER("rule_of_300_s", 3, "s", "by the 300 rule")},
    {ROW_NUMBER("fine_trail_s", 3, "s", "so that stars trail by 3 px at most")},
    {ROW_INTEGER("frames", "in all")},
    {ROW_NUMBER("clock_s", 0, "s", "that they take with their gaps")},
    {ROW_NUMBER("recentre_s", 1, "s", "from one re-centring to the next"), ROW_OR_NULL},
    {ROW_INTEGER("recentre_frames", "frames from one re-centring to the next")},
    {ROW_INTEGER("recentrings", "after the first aim")},
    {ROW_WORD("recentre_by", BATCH_LIMITS, limit_word,
              "what limits a batch: room in the frame, smear, an hour, a minute at least, or "
              "the skyline")},
    {ROW_NUMBER("widening", 3, NULL,
                "share by which stars at the edge become wider in a batch; not of a lens whose "
                "distortion is not known"),
     ROW_SOMETIMES},
    {ROW_INTEGER("group_frames", "to be stacked by themselves first; 0: a batch at once")},
    {ROW_OBJECT("smear_px", smear_schema, "at the edge of a stack of a batch"), ROW_SOMETIMES},
    {ROW_NUMBER("highest_deg", 2, "deg", "altitude while the frames are taken"), ROW_OR_NULL},
    {ROW_NUMBER("turn_deg", 2, "deg", "by which the field turns in that time"), ROW_OR_NULL},
    {0},
};
static const struct schema shots_schema = {.row = shots_rows};

static const struct schema_row depth_rows[] = {
    {ROW_INCLUDE(signal_schema)},
    {ROW_NUMBER("snr", 3, NULL, "signal to noise of a pixel in all frames"), ROW_OR_NULL},
    {0},
};
static const struct schema depth_schema = {.row = depth_rows};

static const struct schema_row run_rows[] = {
    {ROW_TEXT("from", "first evening")},
    {ROW_TEXT("until", "last evening")},
    {0},
};
static const struct schema run_schema = {.row = run_rows};

static const struct schema_row moonless_rows[] = {
    {ROW_TEXT("date", "of the evening")},
    {ROW_NUMBER("hours", 2, "h", "in which it is high enough, it is dark, and the Moon is down")},
    {0},
};
static const struct schema moonless_schema = {.row = moonless_rows};

static const struct schema_row season_rows[] = {
    {ROW_NUMBER("least_hours", 2, "h", "above the least altitude in the dark, at least")},
    {ROW_BOOL("all_year", "there is no evening without")},
    {ROW_OBJECTS("runs", run_schema, "when in the year, from then to then; YYYY-MM-DD")},
    {ROW_TEXT("next", "the first such evening"), ROW_SOMETIMES},
    {ROW_OBJECTS("moonless", moonless_schema, "the next nights without the Moon")},
    {0},
};
static const struct schema season_schema = {.row = season_rows};

static const struct schema_row item_rows[] = {
    {ROW_TEXT("id", "designation")},
    {ROW_TEXT("name", "with those in the same frame")},
    {ROW_NUMBER("ra_deg", 4, "deg", "right ascension, ICRS")},
    {ROW_NUMBER("dec_deg", 4, "deg", "declination, ICRS")},
    {ROW_OBJECT("window", span_schema, "when it is dark and the target high enough"),
     ROW_SOMETIMES},
    {ROW_TEXT("begin_utc", "when to begin")},
    {ROW_TEXT("best_utc", "when it stands best")},
    {ROW_NUMBER("altitude_deg", 2, "deg", "then"), ROW_OR_NULL},
    {ROW_NUMBER("azimuth_deg", 2, "deg", "then, from north through east"), ROW_OR_NULL},
    {ROW_NUMBER("highest_deg", 2, "deg", "altitude at its highest in the night"), ROW_OR_NULL},
    {ROW_OBJECT("frame", frame_schema, "how it is framed")},
    {ROW_TEXTS("with", "what else is in the frame")},
    {ROW_OBJECT("shots", shots_schema, "exposures")},
    {ROW_NUMBER("moon_separation_deg", 1, "deg", "from the Moon at the best time"), ROW_OR_NULL},
    {ROW_NUMBER("moon_altitude_deg", 1, "deg", "of the Moon then"), ROW_OR_NULL},
    {ROW_NUMBER("sky_mag_arcsec2", 2, "mag/arcsec2", "brightness of the sky there and then"),
     ROW_OR_NULL},
    {ROW_OBJECT("signal", depth_schema, "how it will show, if it is a patch of light"),
     ROW_SOMETIMES},
    {ROW_NUMBER("score", 2, NULL, "by which targets are ranked"), ROW_OR_NULL},
    {ROW_TEXT("reason", "what speaks for it and against")},
    {0},
};
static const struct schema item_schema = {.row = item_rows};

static const struct schema_row stop_rows[] = {
    {ROW_TEXT("star", "a star that the eye can see; none: the target"), ROW_SOMETIMES},
    {ROW_NUMBER("azimuth_deg", 2, "deg", "from north through east")},
    {ROW_NUMBER("altitude_deg", 2, "deg", "as seen through the air")},
    {ROW_NUMBER("pan_right_deg", 2, "deg", "from the stop before")},
    {ROW_NUMBER("tilt_up_deg", 2, "deg", "from the stop before")},
    {ROW_NUMBER("right_widths", 3, NULL, "the pan in widths of the frame, as it is held")},
    {ROW_NUMBER("up_heights", 3, NULL, "the tilt in its heights")},
    {0},
};
static const struct schema stop_schema = {.row = stop_rows};

static const struct schema_row step_rows[] = {
    {ROW_TEXT("star", "the next, in one frame with the one before; none: the target"),
     ROW_SOMETIMES},
    {ROW_NUMBER("right_widths", 3, NULL, "where it is from the one before")},
    {ROW_NUMBER("up_heights", 3, NULL, "likewise, in heights")},
    {0},
};
static const struct schema step_schema = {.row = step_rows};

static const struct schema_row arch_rows[] = {
    {ROW_OBJECT("centre_up", span_schema, "when it is dark and its centre 10 deg high or more"),
     ROW_SOMETIMES},
    {ROW_TEXT("best_utc", "when the centre is highest in the dark")},
    {ROW_NUMBER("altitude_deg", 2, "deg", "of the centre then")},
    {ROW_NUMBER("azimuth_deg", 2, "deg", "of the centre then")},
    {ROW_NUMBER("apex_deg", 2, "deg", "altitude of the highest point of its arch then")},
    {ROW_NUMBER("apex_azimuth_deg", 2, "deg", "where that is")},
    {ROW_BOOL("moon_up", "the Moon is above the horizon then")},
    {0},
};
static const struct schema arch_schema = {.row = arch_rows};

static const struct schema_row plan_rows[] = {
    {ROW_FORMAT},
    {ROW_OBJECT("night", night_schema, "the night")},
    {ROW_OBJECT("camera", camera_schema, "camera and lens")},
    {ROW_OBJECT("milky_way", arch_schema, "for fields wider than 40 deg"), ROW_SOMETIMES},
    {ROW_OBJECTS("targets", item_schema, "best first")},
    {0},
};
const struct schema plan_schema = {
    .name = "plan", .text = "What to take in a night.", .row = plan_rows};

static const struct schema_row target_rows[] = {
    {ROW_FORMAT},
    {ROW_OBJECT("target", item_schema, "the target asked for")},
    {ROW_OBJECT("season", season_schema, "when else, with an open horizon; not of what moves"),
     ROW_SOMETIMES},
    {ROW_OBJECTS("way", stop_schema, "from a bright star to the target")},
    {ROW_NUMBER("sun_altitude_deg", 2, "deg", "of the Sun when frames begin"), ROW_OR_NULL},
    {ROW_OBJECTS("star_steps", step_schema,
                 "from the first star of the way by others, each two of which share a frame")},
    {ROW_OBJECT("night", night_schema, "the night")},
    {ROW_OBJECT("camera", camera_schema, "camera and lens")},
    {0},
};
const struct schema plan_target_schema = {
    .name = "plan_target", .text = "How to take one target in a night.", .row = target_rows};
