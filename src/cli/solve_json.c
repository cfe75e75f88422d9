/* The JSON form of a solve. */
#include "base/text.h"
#include "cli/solve_report.h"

#include <string.h>

/* The sentence without the name of the file in front, which has its own key. */
static const char *without_name(const char *sentence, const char *name)
{
    size_t length = strlen(name);
    bool named = strncmp(sentence, name, length) == 0 && strncmp(sentence + length, ": ", 2) == 0;
    return named ? sentence + length + 2 : sentence;
}

void solve_report_open(struct json *json, const struct solved_frame *solved,
                       const struct error *err)
{
    json_open(json, NULL, '{');
    json_string(json, "frame", solved->name);
    json_bool(json, "solved", !err && solved->solution.solved);
    if (err) {
        json_string(json, "why", without_name(err->text, solved->name));
    } else if (!solved->solution.solved) {
        json_string(json, "why", solved->solution.why);
    }
}

int solve_report_close(FILE *out, struct json *json, struct error *err)
{
    json_close(json, '}');
    int code = json->failed ? error_memory(err) : 0;
    if (!code) {
        fprintf(out, "%s\n", json->text);
    }
    json_free(json);
    return code;
}

int solve_report_unread(FILE *out, const struct solved_frame *solved, bool as_json,
                        const struct error *why)
{
    if (!as_json) {
        fprintf(out, "%s: could not be read\n", solved->name);
        return 0;
    }
    struct json json = {0};
    solve_report_open(&json, solved, why);
    return solve_report_close(out, &json, NULL);
}

static void add_centre(struct json *json, const struct wcs *wcs)
{
    double ra_deg, dec_deg;
    char ra[24], dec[24];
    wcs_centre(wcs, &ra_deg, &dec_deg);
    text_write_ra(ra, sizeof ra, ra_deg);
    text_write_dec(dec, sizeof dec, dec_deg);
    json_open(json, "centre", '{');
    json_number(json, "ra_deg", ra_deg, 6);
    json_number(json, "dec_deg", dec_deg, 6);
    json_string(json, "ra", ra);
    json_string(json, "dec", dec);
    json_close(json, '}');
}

static void add_geometry(struct json *json, const struct wcs *wcs)
{
    double width, height;
    wcs_field(wcs, &width, &height);
    add_centre(json, wcs);
    json_open(json, "field", '{');
    json_number(json, "width_deg", width, 5);
    json_number(json, "height_deg", height, 5);
    json_close(json, '}');
    json_number(json, "scale_arcsec_px", wcs_scale_arcsec(wcs), 5);
    json_number(json, "up_angle_deg", wcs_up_angle_deg(wcs), 3);
    json_bool(json, "mirrored", wcs_mirrored(wcs));
}

static void add_stars(struct json *json, const struct solution *solution)
{
    json_open(json, "stars", '{');
    json_integer(json, "detected", solution->detected);
    if (solution->solved) {
        json_integer(json, "matched", solution->matched);
        json_number(json, "rms_px", solution->rms_px, 4);
        json_number(json, "rms_arcsec", solution->rms_arcsec, 4);
    }
    json_close(json, '}');
}

static void add_time(struct json *json, const struct frame_facts *facts)
{
    bool exposure = facts->exposure_s.origin != FACT_UNKNOWN;
    if (!facts->start_utc[0] && !exposure) {
        return;
    }
    json_open(json, "time", '{');
    if (facts->start_utc[0]) {
        json_string(json, "start_utc", facts->start_utc);
    }
    if (exposure) {
        json_number(json, "exposure_s", facts->exposure_s.value, 6);
    }
    json_close(json, '}');
}

static void add_elapsed(struct json *json, const struct solved_frame *solved)
{
    json_open(json, "elapsed_ms", '{');
    json_number(json, "read", solved->read_ms, 2);
    json_number(json, "detect", solved->times.detect_ms, 2);
    json_number(json, "match", solved->times.match_ms, 3);
    json_number(json, "fit", solved->times.fit_ms, 3);
    json_number(json, "health", solved->health_ms, 2);
    json_number(json, "total", solved->total_ms, 2);
    json_close(json, '}');
}

void solve_report_add(struct json *json, const struct solved_frame *solved)
{
    const struct solution *solution = &solved->solution;
    if (solution->solved) {
        add_geometry(json, &solution->wcs);
    }
    add_stars(json, solution);
    if (solution->solved) {
        json_number(json, "chance_log10", solution->chance_log10, 2);
        json_open(json, "distortion", '{');
        json_integer(json, "order", solution->wcs.order);
        json_number(json, "corner_px", wcs_corner_distortion_px(&solution->wcs), 3);
        json_close(json, '}');
    }
    add_time(json, &solved->frame.facts);
    health_write_json(json, &solved->health);
    add_elapsed(json, solved);
}

int solve_report_json(FILE *out, const struct solved_frame *solved, struct error *err)
{
    struct json json = {0};
    solve_report_open(&json, solved, NULL);
    solve_report_add(&json, solved);
    return solve_report_close(out, &json, err);
}
