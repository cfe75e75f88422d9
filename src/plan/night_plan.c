#include "plan/night_plan.h"

#include "base/file.h"
#include "base/schema.h"
#include "base/text.h"
#include "objects/caption.h"
#include "plan/plan_shots.h"
#include "sky/stamp_json.h"
#include "tripod/lead.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double same_interval = 0.15;
static const double most_frames = 1e6; /* of a batch, however fast they come */

static const char *limit_word(int limit)
{
    return batch_limit_key((enum batch_limit)limit);
}

static const char *align_word(int align)
{
    static const char *const words[] = {"turn", "affine", "homography"};
    return words[align];
}

#define AT(member) .at = offsetof(struct night_plan, member)
#define TEXT(name, member, says)                                                                   \
    {                                                                                              \
        .key = name, .kind = SCHEMA_TEXT, .text = says, AT(member),                                \
        .size = sizeof((struct night_plan *)0)->member                                             \
    }
#define NUMBER(name, digits, of_unit, member, least, most, says)                                   \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, .decimals = digits, .unit = of_unit, .text = says,     \
        AT(member), .low = least, .high = most, .missing = (double)NAN                             \
    }
#define INTEGER(name, member, least, most, says)                                                   \
    {                                                                                              \
        .key = name, .kind = SCHEMA_INTEGER, .text = says, AT(member), .low = least, .high = most, \
        .missing = -1                                                                              \
    }

#define FIELD(name, member, says)                                                                  \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, .decimals = 4, .unit = "deg", .text = says,            \
        AT(member), .low = 0, .high = 180                                                          \
    }

static void put_begin(struct json *json, const char *key, const void *structure)
{
    const struct night_plan *night = structure;
    stamp_json_put(json, key, &night->begin);
}

static void put_end(struct json *json, const char *key, const void *structure)
{
    const struct night_plan *night = structure;
    stamp_json_put(json, key, &night->end);
}

static void put_from(struct json *json, const char *key, const void *structure)
{
    const struct night_plan *night = structure;
    stamp_json_put(json, key, &night->from);
}

static void put_until(struct json *json, const char *key, const void *structure)
{
    const struct night_plan *night = structure;
    stamp_json_put(json, key, &night->until);
}

static void take_from(void *structure, const struct json_node *object, const char *key)
{
    struct night_plan *night = structure;
    stamp_json_take(&night->from, object, key);
}

static void take_until(void *structure, const struct json_node *object, const char *key)
{
    struct night_plan *night = structure;
    stamp_json_take(&night->until, object, key);
}

static void take_begin(void *structure, const struct json_node *object, const char *key)
{
    struct night_plan *night = structure;
    stamp_json_take(&night->begin, object, key);
}

static void take_end(void *structure, const struct json_node *object, const char *key)
{
    struct night_plan *night = structure;
    stamp_json_take(&night->end, object, key);
}

static const struct schema_row rows[] = {
    TEXT("night_plan_of", target, "the target"),
    TEXT("with", with, "what else the frame was composed of"),
    NUMBER("middle_ra_deg", 5, "deg", middle.ra_deg, 0, 360, "middle of the frame, ICRS"),
    NUMBER("middle_dec_deg", 5, "deg", middle.dec_deg, -90, 90, "its declination"),
    NUMBER("size_deg", 5, "deg", middle.major_deg, 0, 89, "half the length that has to stay in"),
    NUMBER("breadth_deg", 5, "deg", middle.minor_deg, 0, 89, "half of what it is across"),
    NUMBER("length_angle_deg", 2, "deg", middle.turn_deg, -720, 720, "its position angle"),
    {.key = "length_angle_unknown",
     .kind = SCHEMA_BOOL,
     .text = "then it counts as round",
     AT(middle.turn_unknown)},
    NUMBER("up_angle_deg", 2, "deg", up_deg, -720, 720, "position angle of picture-up"),
    TEXT("camera", camera, "camera and lens in words"),
    NUMBER("focal_mm", 2, "mm", focal_mm, 1, 20000, "focal length"),
    NUMBER("f_number", 2, NULL, f_number, 0.5, 128, "aperture"),
    NUMBER("scale_arcsec_px", 4, "arcsec/px", scale_arcsec, 0.001, 100000, "of the picture"),
    FIELD("field_width_deg", field_width_deg, "of the frame"),
    FIELD("field_height_deg", field_height_deg, "of the frame"),
    NUMBER("exposure_s", 5, "s", exposure_s, 1e-5, 3600, "of a frame"),
    NUMBER("pause_s", 3, "s", pause_s, 0, 3600, "from one frame's end to the next"),
    NUMBER("trail_px", 2, "px", trail_px, 0, 1e5, "that stars trail in a frame"),
    TEXT("chosen_by", rule, "what chose the exposure"),
    INTEGER("frames", frames, 1, 1e9, "wanted in all"),
    {.key = "snr_once",
     .kind = SCHEMA_NUMBER,
     .decimals = 6,
     .when = SCHEMA_POSITIVE,
     .text = "signal to noise per pixel that one of them has of the target",
     AT(snr_once),
     .low = 0,
     .high = 1e6},
    INTEGER("batch_frames", batch_frames, 1, 1e9, "before the camera is turned again"),
    NUMBER("batch_s", 2, "s", batch_s, 0.001, 1e6, "that they take"),
    {.key = "batch_by",
     .kind = SCHEMA_WORD,
     .count = BATCH_LIMITS,
     .word = limit_word,
     .text = "why no more",
     AT(limit)},
    INTEGER("group_frames", group_frames, 0, 1e9, "to be stacked by themselves; 0: all at once"),
    NUMBER("widening", 4, NULL, widening, 0, 1e6,
           "of stars at the edge of a batch's stack; 0: not known, as the lens was not"),
    NUMBER("accepted_widening", 4, NULL, accept.widening, 0, 1e6, "of the same"),
    NUMBER("accepted_smear_px", 3, "px", accept.smear_px, 0, 1e6, "instead, if above 0"),
    NUMBER("star_width_px", 2, "px", accept.star_px, 0, 100, "in one frame, at the edge; 0: usual"),
    {.key = "align",
     .kind = SCHEMA_WORD,
     .count = SMEAR_FITS,
     .word = align_word,
     .text = "what frames are aligned by",
     AT(accept.align)},
    NUMBER("lead_right", 5, NULL, lead_right, -10, 10, "of the target when a batch begins, widths"),
    NUMBER("lead_up", 5, NULL, lead_up, -10, 10, "and heights from the middle"),
    {.key = "begin_utc",
     .kind = SCHEMA_TEXT,
     .put = put_begin,
     .take = take_begin,
     .text = "when to begin"},
    {.key = "end_utc",
     .kind = SCHEMA_TEXT,
     .put = put_end,
     .take = take_end,
     .text = "when all frames are taken"},
    TEXT("hours", hours, "when the target is up in the dark, in own hours"),
    {.key = "from_utc",
     .kind = SCHEMA_TEXT,
     .put = put_from,
     .take = take_from,
     .text = "their start"},
    {.key = "until_utc",
     .kind = SCHEMA_TEXT,
     .put = put_until,
     .take = take_until,
     .text = "their end"},
    {0},
};
static const struct schema schema = {
    .name = "night-plan", .text = "what was decided for a night", .row = rows};

/* A camera on a level head, held as the plan says, with the target led for a batch. */
static void find_lead(struct night_plan *night, const struct plan_sheet *sheet)
{
    const struct plan_item *item = sheet->item;
    const struct head level = {0};
    const struct batch batch = {0, night_plan_every_s(night) * (night->batch_frames - 1)};
    struct wcs wcs;
    struct ground ground;
    struct stand stand;
    struct head_axes axes;
    struct lead lead;
    plan_wcs(&wcs, item, &sheet->settings->camera);
    if (!ground_make(&ground, &sheet->night->place, item->begin)) {
        return;
    }
    stand_make(&stand, &wcs, &ground);
    head_axes(&axes, &level, &stand.view);
    if (lead_find(&lead, &stand, &axes, &night->middle, &batch)) {
        night->lead_right = lead.right_part;
        night->lead_up = lead.up_part;
    }
}

static void write_with(char *out, size_t size, const struct plan_item *item)
{
    out[0] = '\0';
    for (int i = 1; item->composed && i < item->members; i++) {
        text_append(out, size, "%s%s", i > 1 ? ", " : "", item->member[i].object->id);
    }
}

void night_plan_make(struct night_plan *night, const struct plan_sheet *sheet)
{
    const struct plan_item *item = sheet->item;
    const struct plan_settings *settings = sheet->settings;
    const struct plan_shots *shots = &item->shots;
    *night = (struct night_plan){
        .up_deg = item->fit.up_deg,
        .focal_mm = settings->camera.focal_mm,
        .f_number = settings->camera.f_number,
        .scale_arcsec = plan_scale_arcsec(&settings->camera),
        .exposure_s = shots->exposure_s,
        .pause_s = settings->pause_s,
        .trail_px = shots->trail_px,
        .frames = (int)fmin((double)shots->frames, 1e9),
        .batch_frames = (int)shots->batch.frames,
        .snr_once = item->has_signal ? item->outlook.signal.once : 0,
        .limit = (int)shots->batch.limit,
        .group_frames = (int)shots->batch.group_frames,
        .batch_s = shots->batch.span_s,
        .widening = shots->batch.widening,
        .accept = settings->accept,
    };
    plan_field(&night->field_width_deg, &night->field_height_deg, &settings->camera);
    snprintf(night->target, sizeof night->target, "%s", item->member[0].object->id);
    write_with(night->with, sizeof night->with, item);
    snprintf(night->camera, sizeof night->camera, "%s", sheet->camera);
    if (settings->exposure_s > 0) {
        snprintf(night->rule, sizeof night->rule, "as given");
    } else {
        trail_choice_write(night->rule, sizeof night->rule, &settings->trail);
    }
    plan_outline(&night->middle, item);
    night->begin = time_stamp_utc(item->begin, 0);
    night->end = time_stamp_utc(time_add(item->begin, shots->clock_s), 0);
    find_lead(night, sheet);
}

void night_plan_note_hours(struct night_plan *night, const struct plan_sheet *sheet)
{
    const struct dark_span *span = &sheet->item->window.span;
    const struct utc evening = time_add(sheet->night->noon, 8 * 3600);
    char clock[24], word[40];
    struct zone fixed;
    if (!span->any) {
        return;
    }
    zone_fix(&fixed, sheet->utc_offset_min);
    plan_write_span(clock, sizeof clock, span, sheet->utc_offset_min);
    zone_write_word(word, sizeof word, zone_at(sheet->zone ? sheet->zone : &fixed, evening));
    snprintf(night->hours, sizeof night->hours, "%s %s", clock, word);
    night->from = time_stamp_utc(span->start, 0);
    night->until = time_stamp_utc(span->end, 0);
}

const char *night_plan_place_in_hours(const struct night_plan *night, struct utc utc)
{
    if (!night->from.known || !night->until.known) {
        return "";
    }
    return time_between(utc, night->from.utc) > 0    ? "this is before them"
           : time_between(night->until.utc, utc) > 0 ? "this is after them"
                                                     : "";
}

double night_plan_every_s(const struct night_plan *night)
{
    return night->exposure_s + night->pause_s;
}

int night_plan_batch(const struct night_plan *night, double cadence_s)
{
    double planned = night_plan_every_s(night);
    bool alike = !(cadence_s > 0) || fabs(cadence_s / planned - 1) < same_interval;
    double fit = floor(night->batch_s / cadence_s + 1e-9);
    return alike ? night->batch_frames : (int)fmin(fmax(1, fit), most_frames);
}

int night_plan_write(const char *name, const struct night_plan *night, struct error *err)
{
    struct file_out out = {0};
    struct json json = {0};
    int code = file_out_open(&out, name, err);
    if (code) {
        return code;
    }
    schema_write(&json, NULL, &schema, night);
    if (json.failed) {
        file_out_abandon(&out);
        code = error_memory(err);
    } else {
        /* A key a line, so that people can read it. */
        for (const char *at = json.text; *at; at++) {
            fputc(*at, out.stream);
            if (strncmp(at, ", \"", 3) == 0) {
                fputc('\n', out.stream);
            }
        }
        fputc('\n', out.stream);
        code = file_out_commit(&out, err);
    }
    json_free(&json);
    return code;
}

/* The first key whose value is not what it has to be; NULL if all are. */
static const struct schema_row *find_wrong(const struct night_plan *night)
{
    if (!night->target[0]) {
        return rows;
    }
    for (const struct schema_row *row = rows; row->key; row++) {
        const char *member = (const char *)night + row->at;
        double number;
        int integer;
        memcpy(&number, member, row->kind == SCHEMA_NUMBER ? sizeof number : 0);
        memcpy(&integer, member, row->kind == SCHEMA_INTEGER ? sizeof integer : 0);
        if ((row->kind == SCHEMA_NUMBER && isnan(number)) ||
            (row->kind == SCHEMA_INTEGER && integer < 0)) {
            return row;
        }
    }
    return NULL;
}

static int check(const struct night_plan *night, const char *name, struct error *err)
{
    const struct schema_row *row = find_wrong(night);
    if (!row) {
        return 0;
    }
    if (row == rows) {
        return error_set(err, ERROR_INPUT, "%s: is no plan of a night: it has no \"%s\"", name,
                         row->key);
    }
    return error_set(err, ERROR_INPUT, "%s: %s: expected a number from %g to %g", name, row->key,
                     row->low, row->high);
}

int night_plan_read(struct night_plan *night, const char *name, struct error *err)
{
    const size_t longest = 1 << 16;
    struct file_map map = {0};
    struct json_node *root = NULL;
    struct error why = {0};
    *night = (struct night_plan){.frames = 0};
    int code = file_map_open(&map, name, err);
    if (code) {
        return code;
    }
    if (map.size > longest) {
        code = error_set(err, ERROR_INPUT, "%s: is too large for the plan of a night", name);
    } else if (json_read(&root, (const char *)map.bytes, map.size, &why)) {
        code = error_set(err, why.code, "%s: is no plan of a night: %s", name, why.text);
    } else {
        schema_read(night, &schema, root);
        code = check(night, name, err);
    }
    json_read_free(root);
    file_map_close(&map);
    return code;
}
