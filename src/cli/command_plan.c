#include "cli/claims.h"
#include "cli/cli_commands.h"
#include "cli/index_place.h"
#include "cli/occasion_options.h"
#include "cli/plan_report.h"
#include "cli/rig_options.h"

#include "base/text.h"
#include "draw/card.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>
#include <strings.h>
#include <time.h>

/* A date that may not have been given. */
struct date {
    bool given;
    int year, month, day;
};

struct sensor_size {
    double width_mm, height_mm; /* 0: not given */
};

struct plan_command_settings {
    struct rig_settings rig;
    const char *catalogs, *target, *card;
    struct date date;
    double above_deg, total_min, exposure_s, gap_s;
    struct trail_choice trail;
    double focal_mm, f_number, pixel_um, sky_mag, bortle, snr, distortion_percent;
    double widen_percent, smear_px;
    struct sensor_size sensor;
    int dark, most, align;
    const char *with;
    bool json, red, replace, compose;
};

static const struct plan_command_settings defaults = {.above_deg = 30,
                                                      .total_min = 60,
                                                      .gap_s = 1,
                                                      .snr = 1,
                                                      .widen_percent = 10,
                                                      .distortion_percent = (double)NAN,
                                                      .align = SMEAR_HOMOGRAPHY,
                                                      .most = 8};

static bool read_date(void *member, const char *text)
{
    struct date *date = member;
    struct utc utc;
    date->given = strlen(text) == 10 && time_read(&utc, text) &&
                  sscanf(text, "%4d-%2d-%2d", &date->year, &date->month, &date->day) == 3;
    return date->given;
}

static bool read_sensor(void *member, const char *text)
{
    struct sensor_size *size = member;
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
    *size = (struct sensor_size){fmax(a, b), fmin(a, b)};
    return true;
}

static bool read_trail(void *member, const char *text)
{
    return trail_choice_read(member, text);
}

static const struct option_row options[] = {
    {.name = "target",
     .letter = 't',
     .kind = OPTION_TEXT,
     .argument = "NAME|RA,DEC",
     .help = "tell more of this one: \"M 31\", \"Orion Nebula\", or a position like 83.8,-5.4",
     .store = offsetof(struct plan_command_settings, target)},
    {.name = "with",
     .kind = OPTION_TEXT,
     .argument = "NAME,NAME",
     .help = "with --target: what else is to be in the frame, whose middle is then that of all: "
             "\"M 43, NGC 1977\"",
     .store = offsetof(struct plan_command_settings, with)},
    {.name = "compose",
     .help = "move and turn the frame so that more of what is worth it comes in",
     .store = offsetof(struct plan_command_settings, compose)},
    {.name = "date",
     .kind = OPTION_READ,
     .argument = "YYYY-MM-DD",
     .help = "of the evening (this one)",
     .read = read_date,
     .expected = "a date like 2026-02-24, of the years 1800 to 2200",
     .store = offsetof(struct plan_command_settings, date)},
    RIG_PLACE_OPTION(plan_command_settings, rig),
    {.name = "json",
     .help = "print one JSON object on a line",
     .store = offsetof(struct plan_command_settings, json)},
    {.name = "most",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "how many targets to propose (8)",
     .low = 1,
     .high = 200,
     .store = offsetof(struct plan_command_settings, most)},
    {.name = "card",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "with --target: write a page to take along, a .pdf or .png",
     .store = offsetof(struct plan_command_settings, card)},
    OUTPUTS_REPLACE_OPTION(plan_command_settings, replace),
    {.name = "red",
     .help = "the page in dark red on black, for a screen in the dark",
     .store = offsetof(struct plan_command_settings, red)},
    {.kind = OPTION_HEADING, .help = "What is wanted"},
    {.name = "above",
     .kind = OPTION_NUMBER,
     .argument = "DEG",
     .help = "least altitude (30)",
     .low = 0,
     .high = 85,
     .store = offsetof(struct plan_command_settings, above_deg)},
    {.name = "dark",
     .kind = OPTION_CHOICE,
     .argument = "astronomical|nautical|civil",
     .help = "the twilight that counts as dark: the Sun 18, 12 or 6 degrees down (astronomical, "
             "or the darkest there is)",
     .store = offsetof(struct plan_command_settings, dark)},
    {.name = "total",
     .kind = OPTION_NUMBER,
     .argument = "MIN",
     .help = "minutes of light in all (60)",
     .low = 0.1,
     .high = 6000,
     .store = offsetof(struct plan_command_settings, total_min)},
    {.name = "exposure",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds a frame (by the 500 rule)",
     .low = 0.001,
     .high = 3600,
     .store = offsetof(struct plan_command_settings, exposure_s)},
    {.name = "trail",
     .kind = OPTION_READ,
     .argument = "500|300|PX",
     .help = "how long stars may trail: by the 500 rule or a stricter one, or so many pixels: "
             "\"3 px\" (trail of the settings file, else 500)",
     .read = read_trail,
     .expected = "a rule like 500 or 300, or pixels like 3 px",
     .store = offsetof(struct plan_command_settings, trail)},
    {.name = "gap",
     .kind = OPTION_NUMBER,
     .argument = "S",
     .help = "seconds between two frames (1)",
     .low = 0,
     .high = 600,
     .store = offsetof(struct plan_command_settings, gap_s)},
    {.name = "snr",
     .kind = OPTION_NUMBER,
     .argument = "RATIO",
     .help = "signal to noise that a pixel of the target is to reach (1)",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct plan_command_settings, snr)},
    {.name = "sky",
     .kind = OPTION_NUMBER,
     .argument = "MAG",
     .help = "brightness of the sky without the Moon, magnitudes a square arcsecond (the place's, "
             "else 19.2)",
     .low = 14,
     .high = 23,
     .store = offsetof(struct plan_command_settings, sky_mag)},
    {.name = "bortle",
     .kind = OPTION_NUMBER,
     .argument = "CLASS",
     .help = "the same as a class of 1 (wilderness) to 9 (city)",
     .low = 1,
     .high = 9,
     .store = offsetof(struct plan_command_settings, bortle)},
    {.name = "widen",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help = "by how much stars at the edge may be wider in the stack than in one frame (10)",
     .low = 0.1,
     .high = 1000,
     .store = offsetof(struct plan_command_settings, widen_percent)},
    {.name = "smear",
     .kind = OPTION_NUMBER,
     .argument = "PX",
     .help = "the same as pixels by which they may miss each other between two re-centrings",
     .low = 0.01,
     .high = 1000,
     .store = offsetof(struct plan_command_settings, smear_px)},
    {.name = "align",
     .kind = OPTION_CHOICE,
     .argument = "turn|affine|homography",
     .help = "what the stacking program does to frames: shift and rotation, stretch and shear too, "
             "or perspective too (homography)",
     .store = offsetof(struct plan_command_settings, align)},
    {.kind = OPTION_HEADING, .help = "Camera and lens"},
    RIG_OPTIONS(plan_command_settings, rig),
    {.name = "focal",
     .kind = OPTION_NUMBER,
     .argument = "MM",
     .help = "focal length (the lens's; a zoom's longest)",
     .low = 1,
     .high = 20000,
     .store = offsetof(struct plan_command_settings, focal_mm)},
    {.name = "aperture",
     .kind = OPTION_NUMBER,
     .argument = "N",
     .help = "f-number (the lens's, else 4)",
     .low = 0.5,
     .high = 128,
     .store = offsetof(struct plan_command_settings, f_number)},
    {.name = "sensor",
     .kind = OPTION_READ,
     .argument = "WxH",
     .help = "size of the sensor in mm (the body's, else 22.2x14.8)",
     .read = read_sensor,
     .expected = "a size in mm like 36x24",
     .store = offsetof(struct plan_command_settings, sensor)},
    {.name = "pixel",
     .kind = OPTION_NUMBER,
     .argument = "UM",
     .help = "pitch of its pixels in micrometres (the body's, else 3.7)",
     .low = 0.5,
     .high = 100,
     .store = offsetof(struct plan_command_settings, pixel_um)},
    {.name = "distortion",
     .kind = OPTION_NUMBER,
     .argument = "PERCENT",
     .help =
         "of the lens at the corner of the frame, as solve --verbose tells it (the lens's, else "
         "none)",
     .low = -30,
     .high = 30,
     .store = offsetof(struct plan_command_settings, distortion_percent)},
    {.kind = OPTION_HEADING, .help = "Files"},
    {.name = "catalogs",
     .kind = OPTION_TEXT,
     .argument = "DIR",
     .help = "folder with the tables of objects (ALIDADE_CATALOGS, else the one that came with the "
             "program)",
     .store = offsetof(struct plan_command_settings, catalogs)},
    {0},
};

/* What a run puts together. */
struct plan_run {
    const struct plan_command_settings *given;
    struct rig_in_use rig;
    struct objects objects;
    struct night night;
    struct plan_settings settings;
    struct plan_sheet sheet;
    char place[120], camera[160], folder[4096]; /* folder: of the tables */
};

static double first_known(double a, double b, double c)
{
    return a > 0 ? a : b > 0 ? b : c;
}

/* How long stars may trail, and which exposures there are. */
static void choose_exposures(struct plan_run *run)
{
    const struct trail_choice *trail = &run->given->trail;
    const struct rig *rig = &run->rig.rig;
    run->settings.trail = trail->px > 0 || trail->rule_mm_s > 0 ? *trail : rig->trail;
    if (rig->body) {
        run->settings.shutter = rig->body->shutter;
    }
}

static int choose_camera(struct plan_run *run, struct error *err)
{
    const struct plan_command_settings *given = run->given;
    const struct rig *rig = &run->rig.rig;
    struct plan_camera *camera = &run->settings.camera;
    if (!rig->lens && given->focal_mm <= 0) {
        return error_set(err, ERROR_USAGE,
                         "a plan needs a lens: give --focal MM, or --lens NAME of a settings file");
    }
    const struct rig_body *body = rig->body;
    *camera = (struct plan_camera){
        .focal_mm = first_known(given->focal_mm, rig->lens ? rig->lens->longest_mm : 0, 0),
        .f_number = first_known(given->f_number, rig->lens ? rig->lens->f_number : 0, 4),
        .pixel_um = first_known(given->pixel_um, body ? body->pixel_um : 0, 3.7),
        .width_mm = first_known(given->sensor.width_mm, body ? body->sensor_width : 0, 22.2),
        .height_mm = first_known(given->sensor.height_mm, body ? body->sensor_height : 0, 14.8),
        .read_noise = first_known(0, body ? body->read_noise : 0, SIGNAL_READ_NOISE),
        .efficiency = first_known(0, body ? body->efficiency : 0, SIGNAL_EFFICIENCY),
    };
    double distortion = isfinite(given->distortion_percent) ? given->distortion_percent
                        : rig->lens                         ? rig->lens->distortion_percent
                                                            : 0;
    camera->distortion = isfinite(distortion) ? distortion / 100 : 0;
    char sensor[80];
    if (given->sensor.width_mm > 0) {
        snprintf(sensor, sizeof sensor, "%g x %g mm", camera->width_mm, camera->height_mm);
    } else {
        snprintf(sensor, sizeof sensor, "%s", body ? body->entry.name : "crop sensor");
    }
    snprintf(run->camera, sizeof run->camera, "%s, %g mm f/%g", sensor, camera->focal_mm,
             camera->f_number);
    return 0;
}

/* A suburb's sky, where nothing is told. */
static const double usual_sky_mag = 19.2;

static double choose_sky(const struct plan_command_settings *given, const struct rig_place *place)
{
    if (given->sky_mag > 0) {
        return given->sky_mag;
    }
    if (given->bortle > 0) {
        return signal_bortle_mag(given->bortle);
    }
    if (place->sky_mag > 0) {
        return place->sky_mag;
    }
    return place->bortle > 0 ? signal_bortle_mag(place->bortle) : usual_sky_mag;
}

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
static time_t about_when(const struct date *date)
{
    char text[40];
    struct utc utc;
    snprintf(text, sizeof text, "%04d-%02d-%02dT12:00:00Z", date->year, date->month, date->day);
    if (!date->given || !time_read(&utc, text)) {
        return time(NULL);
    }
    return (time_t)llround((time_julian_date(utc) - UNIX_EPOCH_JD) * 86400);
}

/* In the evening, before clocks are changed in the night. */
static double zone_offset_min(const struct zone *zone, const struct date *date)
{
    struct utc when = occasion_options_today(), evening;
    char text[40];
    snprintf(text, sizeof text, "%04d-%02d-%02dT20:00:00", date->year, date->month, date->day);
    if (date->given && time_read(&evening, text)) {
        zone_to_utc(&when, zone, evening);
    }
    return zone_ahead_min(zone, when);
}

static double choose_offset(const struct plan_command_settings *given, const struct rig *rig)
{
    if (rig_times_zone(rig)) {
        return zone_offset_min(rig_times_zone(rig), &given->date);
    }
    double solar = angle_wrap_180(rig->place->longitude_deg) * 4;
    double computer = computer_offset_min(about_when(&given->date));
    return fabs(computer - solar) < 180 ? computer : round(solar / 60) * 60;
}

/* The evening that a clock is in, or comes to next: until noon the one before. */
static struct date this_evening(double utc_offset_min)
{
    time_t evening = time(NULL) + (time_t)(utc_offset_min * 60) - 43200;
    struct tm parts;
    gmtime_r(&evening, &parts);
    return (struct date){true, parts.tm_year + 1900, parts.tm_mon + 1, parts.tm_mday};
}

static void name_place(struct plan_run *run, const struct rig_place *place)
{
    char where[64];
    snprintf(where, sizeof where, "%.2f° %c, %.2f° %c", fabs(place->latitude_deg),
             place->latitude_deg < 0 ? 'S' : 'N', fabs(place->longitude_deg),
             place->longitude_deg < 0 ? 'W' : 'E');
    const char *name = place->entry.name;
    snprintf(run->place, sizeof run->place, "%s%s%s%s", name, *name ? " (" : "", where,
             *name ? ")" : "");
}

static int choose_night(struct plan_run *run, struct error *err)
{
    const struct rig_place *place = run->rig.rig.place;
    if (!place) {
        return error_set(err, ERROR_USAGE,
                         "a plan needs a place: give --place LAT,LON, or --place NAME of a "
                         "settings file");
    }
    double offset = choose_offset(run->given, &run->rig.rig);
    struct date date = run->given->date.given ? run->given->date : this_evening(offset);
    struct place where = {.latitude_deg = place->latitude_deg,
                          .longitude_deg = place->longitude_deg,
                          .height_m = place->height_m};
    enum night_depth wanted = (enum night_depth)(NIGHT_ASTRONOMICAL - run->given->dark);
    if (!night_find(&run->night, &where, date.year, date.month, date.day, offset, wanted)) {
        return error_set(err, ERROR_USAGE, "--date: %04d-%02d-%02d cannot be computed", date.year,
                         date.month, date.day);
    }
    run->settings.sky_mag = choose_sky(run->given, place);
    run->sheet.utc_offset_min = offset;
    run->sheet.zone = rig_times_zone(&run->rig.rig);
    name_place(run, place);
    return 0;
}

static int prepare(struct plan_run *run, struct error *err)
{
    const struct plan_command_settings *given = run->given;
    run->settings = (struct plan_settings){
        .least_altitude_deg = given->above_deg,
        .exposure_s = given->exposure_s,
        .compose = given->compose,
        .gap_s = given->gap_s,
        .total_s = given->total_min * 60,
        .snr = given->snr,
        .accept = {.widening = given->widen_percent / 100,
                   .smear_px = given->smear_px,
                   .align = (enum smear_fit)given->align},
    };
    int code = rig_open(&run->rig, &given->rig, err);
    code = code ? code : choose_camera(run, err);
    choose_exposures(run);
    code = code ? code : choose_night(run, err);
    code = code ? code : catalogs_place(run->folder, sizeof run->folder, given->catalogs, err);
    code = code ? code : objects_load(&run->objects, run->folder, err);
    run->sheet.settings = &run->settings;
    run->sheet.night = &run->night;
    run->sheet.objects = &run->objects;
    run->sheet.place = run->place;
    run->sheet.camera = run->camera;
    return code;
}

static int answer_night(FILE *out, struct plan_run *run, struct error *err)
{
    struct plan plan = {0};
    int code = plan_make(&plan, &run->objects, &run->night, &run->settings, run->given->most, err);
    if (!code && run->given->json) {
        code = plan_json_night(out, &run->sheet, &plan, err);
    } else if (!code) {
        plan_report_night(out, &run->sheet, &plan);
    }
    code = code ? code : plan.count ? 0 : ERROR_NO;
    plan_free(&plan);
    return code;
}

/* A name, or a position, which becomes an object of its own in *own with its name in text. */
static const struct object *find_target(struct object *own, char *text, size_t size,
                                        const struct plan_run *run, struct error *err)
{
    double ra, dec;
    if (text_read_radec(&ra, &dec, run->given->target)) {
        text_write_ra(text, size, ra);
        text_append(text, size, " ");
        text_write_dec(text + strlen(text), size - strlen(text), dec);
        *own = (struct object){.id = text,
                               .other_names = "",
                               .common_names = "",
                               .usual_name = "",
                               .type = OBJECT_STAR,
                               .ra_deg = ra,
                               .dec_deg = dec,
                               .magnitude = NAN,
                               .magnitude_error = NAN,
                               .major_arcmin = NAN,
                               .minor_arcmin = NAN,
                               .angle_deg = NAN};
        return own;
    }
    return objects_look_up(&run->objects, run->given->target, err);
}

static bool has_suffix(const char *name, const char *suffix)
{
    size_t length = strlen(name), tail = strlen(suffix);
    return length > tail && strcasecmp(name + length - tail, suffix) == 0;
}

static int check_output(const struct plan_command_settings *given, struct error *err)
{
    const struct output output = {given->card, "--card",
                                  .may_replace = FILE_KIND_BIT(FILE_DRAWING)};
    struct outputs outputs = {.replace = given->replace};
    int code = claims_add_usual(&outputs, NULL, given->catalogs, &given->rig, err);
    code = code ? code : outputs_add(&outputs, &output, err);
    return claims_settle(&outputs, code, err);
}

static int check_card(const struct plan_command_settings *given, struct error *err)
{
    if (given->card && !given->target) {
        return error_set(err, ERROR_USAGE, "--card needs --target: a page is about one of them");
    }
    if (given->card && !has_suffix(given->card, ".pdf") && !has_suffix(given->card, ".png")) {
        return error_set(err, ERROR_USAGE,
                         "--card: expected a name that ends with .pdf or .png, "
                         "not \"%.200s\"",
                         given->card);
    }
    if (given->with && !given->target) {
        return error_set(err, ERROR_USAGE, "--with needs --target: what comes first");
    }
    if (given->red && !given->card) {
        return error_set(err, ERROR_USAGE, "--red needs --card");
    }
    return given->card ? check_output(given, err) : 0;
}

static int write_card(const struct plan_run *run, struct error *err)
{
    struct figures figures = {0};
    const char *name = run->given->card;
    int code = figures_load(&figures, run->folder, err);
    if (!code) {
        code = card_write(&(struct file_target){.name = name},
                          has_suffix(name, ".pdf") ? PAGE_PDF : PAGE_PNG, run->given->red,
                          &run->sheet, &figures, err);
    }
    figures_free(&figures);
    return code;
}

/* The objects that --with names. */
static int find_with(const struct object *with[PLAN_MEMBERS], struct plan_run *run,
                     struct error *err)
{
    int count = 0;
    for (const char *at = run->given->with; at && *at;) {
        char name[120];
        size_t length = strcspn(at, ",");
        snprintf(name, sizeof name, "%.*s", (int)(length < 119 ? length : 119), at);
        if (count == PLAN_MEMBERS - 1) {
            return error_set(err, ERROR_USAGE, "--with: expected at most %d names",
                             PLAN_MEMBERS - 1);
        }
        with[count] = objects_look_up(&run->objects, name + strspn(name, " "), err);
        if (!with[count++]) {
            return err->code;
        }
        at += length + (at[length] == ',');
    }
    run->settings.with = with;
    run->settings.with_count = count;
    return 0;
}

static int answer_target(FILE *out, struct plan_run *run, struct error *err)
{
    char name[64];
    struct object own;
    struct plan_item item;
    struct approach approach;
    const struct object *with[PLAN_MEMBERS];
    const struct object *object = find_target(&own, name, sizeof name, run, err);
    if (!object || find_with(with, run, err)) {
        return err->code;
    }
    int code = plan_target(&item, object, &run->objects, &run->night, &run->settings, err);
    if (code) {
        return code;
    }
    if (!approach_find(&approach, &run->objects, &run->night.place, item.begin, item.fit.ra_deg,
                       item.fit.dec_deg)) {
        return error_set(err, ERROR_USAGE, "the sky of that night cannot be computed");
    }
    run->sheet.item = &item;
    run->sheet.approach = &approach;
    if (run->given->json) {
        code = plan_json_target(out, &run->sheet, err);
    } else {
        plan_report_target(out, &run->sheet);
    }
    if (!code && run->given->card && item.window.span.any) {
        code = write_card(run, err);
    } else if (!code && run->given->card && !run->given->json) {
        fputs("  card      not written: there is nothing to shoot\n", out);
    }
    return code ? code : item.window.span.any ? 0 : ERROR_NO;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    struct plan_run run = {.given = given};
    (void)operands;
    (void)operand;
    int code = check_card(run.given, err);
    code = code ? code : prepare(&run, err);
    if (!code) {
        code = run.given->target ? answer_target(out, &run, err) : answer_night(out, &run, err);
    }
    objects_free(&run.objects);
    return code;
}

const struct command command_plan = {
    .name = "plan",
    .summary = "Say what to shoot in a night with a lens, and how.",
    .operands = NULL,
    .least = 0,
    .most = 0,
    .about = "For a lens, a place and a date: when it is dark, what the Moon does, and which "
             "objects are worth it, best first, with what else comes into the same frame. With "
             "--target, one of them in full: how long, how many frames, when to re-centre, how to "
             "find it from a star that the eye can see.\n\nLens and place are taken from the "
             "settings file where they are not given. Example: alidade plan --focal 250 --place "
             "50.1,10.2",
    .options = options,
    .defaults = &defaults,
    .settings_size = sizeof(struct plan_command_settings),
    .run = run,
};
