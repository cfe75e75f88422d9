#include "cli/plan_options.h"

#include "base/outputs.h"
#include "base/text.h"
#include "cli/occasion_options.h"
#include "sky/rates.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

const struct plan_options plan_option_defaults = {
    .wish = JOB_PLAN_USUAL, .total_min = 60, .widen_percent = 10, .align = SMEAR_HOMOGRAPHY};

static bool read_date(void *member, const char *text)
{
    struct plan_date *date = member;
    struct utc utc;
    date->given = strlen(text) == 10 && time_read(&utc, text);
    if (date->given) {
        time_date(&date->year, &date->month, &date->day, utc);
    }
    return date->given;
}

static bool read_clock(void *member, const char *text)
{
    return plan_clock_read(member, text);
}

static bool read_sensor(void *member, const char *text)
{
    struct plan_gear *gear = member;
    char first[32];
    const char *sign = strchr(text, 'x');
    double a, b;
    if (!sign || sign - text >= (long)sizeof first) {
        return false;
    }
    snprintf(first, sizeof first, "%.*s", (int)(sign - text), text);
    if (!text_read_double(&a, first) || !text_read_double(&b, sign + 1) ||
        !(fmin(a, b) >= 1 && fmax(a, b) <= 300)) {
        return false;
    }
    gear->sensor_width_mm = fmax(a, b);
    gear->sensor_height_mm = fmin(a, b);
    return true;
}

static bool read_focal(void *member, const char *text)
{
    return plan_gear_read_focal(member, text);
}

static bool read_aperture(void *member, const char *text)
{
    return plan_gear_read_aperture(member, text);
}

static bool read_trail(void *member, const char *text)
{
    return trail_choice_read(member, text);
}

const struct option_row plan_option_rows[] = {
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help =
         "full details for one target: \"M 31\", \"Orion Nebula\", or a position like 83.8,-5.4",
     .store = offsetof(struct plan_options, wish.target)},
    {.name = "with",
     .kind = OPTION_TEXT,
     .argument = "NAME,NAME",
     .help = "with --target: what else is to be in the frame, whose middle is then that of all: "
             "\"M 43, NGC 1977\"",
     .store = offsetof(struct plan_options, wish.with)},
    {.name = "compose",
     .help = "move and turn the frame so that more of what is worth it comes in",
     .store = offsetof(struct plan_options, wish.settings.compose)},
    {.name = "date",
     .kind = OPTION_READ,
     .argument = "YYYY-MM-DD",
     .help = "date of the evening (today)",
     .read = read_date,
     .expected = "a date like 2026-02-24, of the years 1800 to 2200",
     .store = offsetof(struct plan_options, wish.evening.date)},
    {.name = "from",
     .kind = OPTION_READ,
     .argument = "HH:MM|now",
     .help = "plan only from then on, by the clock that the plan's times are of, or with a zone of "
             "its own: 23:00+02:00 (dusk; now, if it is dark already and no date is given)",
     .read = read_clock,
     .expected = "a time like 22:30, 22:30Z or 22:30+01:00, or now",
     .store = offsetof(struct plan_options, wish.evening.from)},
    {.name = "until",
     .kind = OPTION_READ,
     .argument = "HH:MM|now",
     .help = "and only until then, past midnight too (dawn)",
     .read = read_clock,
     .expected = "a time like 01:30, 01:30Z or 01:30+01:00, or now",
     .store = offsetof(struct plan_options, wish.evening.until)},
    RIG_PLACE_OPTION(plan_options, rig),
    {.name = "json",
     .help = "print one JSON object on one line",
     .store = offsetof(struct plan_options, json)},
    {.name = "most",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "how many targets to propose (8)",
     .low = 1,
     .high = 200,
     .store = offsetof(struct plan_options, wish.most)},
    {.name = "card",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "with --target: write a page to take along, a .pdf or .png",
     .store = offsetof(struct plan_options, card)},
    {.name = "save",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "with --target: write what was decided, for aim, watch, review and annotate; as "
             "night-plan.json in the folder of the frames they find it by themselves",
     .store = offsetof(struct plan_options, save)},
    OUTPUTS_REPLACE_OPTION(plan_options, replace),
    {.name = "red",
     .help = "draw the card in dark red on black, for a screen in the dark",
     .store = offsetof(struct plan_options, red)},
    {.kind = OPTION_HEADING, .help = "What is wanted"},
    {.name = "above",
     .kind = OPTION_NUMBER,
     .argument = "DEG",
     .help = "minimum altitude in degrees (30)",
     .low = 0,
     .high = 85,
     .store = offsetof(struct plan_options, wish.settings.least_altitude_deg)},
    {.name = "nights",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "with --target: how many nights without the Moon to name (5)",
     .low = 1,
     .high = SEASON_NIGHTS,
     .store = offsetof(struct plan_options, wish.nights)},
    {.name = "moonless",
     .kind = OPTION_NUMBER,
     .argument = "H",
     .help =
         "and how many hours of the target, in the dark and without the Moon, they have at least "
         "(2)",
     .low = 0.1,
     .high = 24,
     .store = offsetof(struct plan_options, wish.moonless_hours)},
    {.name = "dark",
     .kind = OPTION_CHOICE,
     .argument = "astronomical|nautical|civil",
     .help = "the twilight that counts as dark: the Sun 18, 12 or 6 degrees down (astronomical, "
             "or the darkest there is)",
     .store = offsetof(struct plan_options, dark)},
    {.name = "total",
     .kind = OPTION_NUMBER,
     .argument = "MIN",
     .help = "total exposure in minutes (60)",
     .low = 0.1,
     .high = 6000,
     .store = offsetof(struct plan_options, total_min)},
    {.name = "exposure",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "exposure of a frame in seconds (by the 500 rule)",
     .low = 0.001,
     .high = 3600,
     .store = offsetof(struct plan_options, wish.settings.exposure_s)},
    {.name = "trail",
     .kind = OPTION_READ,
     .argument = "500|300|PX",
     .help = "how long stars may trail: by the 500 rule or a stricter one, or so many pixels: "
             "\"3 px\" (trail of the settings file, else 500)",
     .read = read_trail,
     .expected = "a rule like 500 or 300, or pixels like 3 px",
     .store = offsetof(struct plan_options, wish.settings.trail)},
    {.name = "gap",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds between two frames (1)",
     .low = 0,
     .high = 600,
     .store = offsetof(struct plan_options, wish.settings.pause_s)},
    {.name = "snr",
     .kind = OPTION_NUMBER,
     .argument = "RATIO",
     .help = "signal to noise that a pixel of the target should reach (1)",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct plan_options, wish.settings.snr)},
    {.name = "sky",
     .kind = OPTION_NUMBER,
     .argument = "MAG",
     .help = "brightness of the sky without the Moon, in magnitudes per square arcsecond (the "
             "place's, else 19.2)",
     .low = 14,
     .high = 23,
     .store = offsetof(struct plan_options, wish.sky_mag)},
    {.name = "bortle",
     .kind = OPTION_NUMBER,
     .argument = "CLASS",
     .help = "the same as a class, 1 (wilderness) to 9 (city)",
     .low = 1,
     .high = 9,
     .store = offsetof(struct plan_options, wish.bortle)},
    {.name = "widen",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "by how much stars at the edge may be wider in the stack than in one frame (10)",
     .low = 0.1,
     .high = 1000,
     .store = offsetof(struct plan_options, widen_percent)},
    {.name = "smear",
     .kind = OPTION_NUMBER,
     .argument = "PX",
     .help = "the same as pixels by which they may miss each other between two re-centrings",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct plan_options, wish.settings.accept.smear_px)},
    {.name = "align",
     .kind = OPTION_CHOICE,
     .argument = "turn|affine|homography",
     .help = "what the stacking program does to frames: shift and rotation, stretch and shear too, "
             "or perspective too (homography)",
     .store = offsetof(struct plan_options, align)},
    {.kind = OPTION_HEADING, .help = "Camera and lens"},
    RIG_OPTIONS(plan_options, rig),
    {.name = "focal",
     .kind = OPTION_READ,
     .argument = "MM|MM-MM",
     .help =
         "focal length, or the shortest and longest of a zoom: 70-300 (the lens's; of a zoom what "
         "suits the target)",
     .read = read_focal,
     .expected = "a focal length like 250, or 70-300 of a zoom",
     .store = offsetof(struct plan_options, wish.gear)},
    {.name = "aperture",
     .kind = OPTION_READ,
     .argument = "N|N-N",
     .help = "f-number, or those at both ends of a zoom: 4-5.6 (the lens's, else 4)",
     .read = read_aperture,
     .expected = "an f-number of 0.5 to 128, or 4-5.6 of a zoom",
     .store = offsetof(struct plan_options, wish.gear)},
    {.name = "sensor",
     .kind = OPTION_READ,
     .argument = "WxH",
     .help = "size of the sensor in mm (the body's, else 22.2x14.8)",
     .read = read_sensor,
     .expected = "a size in mm like 36x24",
     .store = offsetof(struct plan_options, wish.gear)},
    {.name = "pixel",
     .kind = OPTION_NUMBER,
     .argument = "UM",
     .help = "pitch of its pixels in micrometres (the body's, else 3.7)",
     .low = 0.5,
     .high = 100,
     .store = offsetof(struct plan_options, wish.gear.pixel_um)},
    {.name = "distortion",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "distortion at the corner of the frame, as solve --verbose reports it: barrel is "
             "negative, pincushion positive (the lens's as it was learned, else as the settings "
             "file says, else none)",
     .low = -30,
     .high = 30,
     .store = offsetof(struct plan_options, wish.gear.distortion_percent)},
    {.kind = OPTION_HEADING, .help = "Files"},
    {.name = "catalogs",
     .kind = OPTION_TEXT,
     .argument = "DIR",
     .help = "folder with the tables of objects (ALIDADE_CATALOGS, else the one that came with the "
             "program)",
     .store = offsetof(struct plan_options, catalogs)},
    {0},
};

/* How far this computer's clock is ahead of UTC. */
static double computer_offset_min(time_t when)
{
    struct tm local, utc;
    if (!localtime_r(&when, &local) || !gmtime_r(&when, &utc)) {
        return 0;
    }
    int days = local.tm_yday - utc.tm_yday;
    days = days > 1 ? -1 : days < -1 ? 1 : days; /* across a new year */
    return days * 1440 + (local.tm_hour - utc.tm_hour) * 60 + local.tm_min - utc.tm_min;
}

/* Noon of that date in UTC, or now. */
static time_t about_when(const struct plan_date *date)
{
    struct utc utc;
    if (!date->given || !time_from_date(&utc, date->year, date->month, date->day, 12)) {
        return time(NULL);
    }
    return (time_t)llround((time_julian_date(utc) - UNIX_EPOCH_JD) * 86400);
}

double plan_options_own_offset_min(void)
{
    return computer_offset_min(time(NULL));
}

struct job_plan_wish plan_options_wish(const struct plan_options *options)
{
    struct job_plan_wish wish = options->wish;
    wish.settings.total_s = options->total_min * 60;
    wish.settings.accept.widening = options->widen_percent / 100;
    wish.settings.accept.align = (enum smear_fit)options->align;
    wish.evening.darkness = (enum darkness_depth)(DARKNESS_ASTRONOMICAL - options->dark);
    wish.evening.now = occasion_options_today();
    wish.evening.own_offset_min = computer_offset_min(about_when(&wish.evening.date));
    return wish;
}
