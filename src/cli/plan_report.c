#include "cli/plan_report.h"

#include "base/options.h"
#include "base/text.h"
#include "cli/terminal.h"

#include <string.h>

enum { LABEL = 12, LINE = 500, STEPS = 1200 };

/* "  dark     19:20-05:15 ...": a label, and text wrapped beside it; nothing for no text. */
static void write_row(FILE *out, const char *label, const char *text)
{
    if (text[0]) {
        fprintf(out, "  %-*s", LABEL - 2, label);
        options_write_wrapped(out, text, LABEL, LABEL, terminal_columns(out));
    }
}

static void write_camera(FILE *out, const struct plan_sheet *sheet)
{
    const struct plan_camera *camera = &sheet->settings->camera;
    char text[LINE], across[24], along[24];
    double width, height;
    bool zooms = !sheet->item && sheet->settings->zoom.longest_mm > 0;
    plan_field(&width, &height, camera);
    text_write_angle(across, sizeof across, width);
    text_write_angle(along, sizeof along, height);
    snprintf(text, sizeof text, "%s: %s x %s, %.2f\"/px%s", sheet->camera, across, along,
             plan_scale_arcsec(camera), zooms ? " at its longest" : "");
    write_row(out, "camera", text);
}

static void write_night(FILE *out, const struct plan_sheet *sheet)
{
    char text[LINE], zone[100], date[32];
    plan_write_dark(text, sizeof text, sheet);
    write_row(out, "dark", text);
    plan_write_hours(text, sizeof text, sheet->night, sheet->utc_offset_min);
    write_row(out, "hours", text);
    plan_write_moon(text, sizeof text, sheet->night, sheet->utc_offset_min);
    write_row(out, "Moon", text);
    plan_write_date(date, sizeof date, sheet->night, sheet->utc_offset_min);
    plan_write_zone(zone, sizeof zone, sheet);
    snprintf(text, sizeof text, "%s, %s, clock at %s", date, sheet->place, zone);
    write_row(out, "night", text);
}

static void write_choice(FILE *out, const struct plan_sheet *sheet, const struct plan_item *item,
                         int number)
{
    char text[LINE], span[24];
    plan_write_name(text, sizeof text, item);
    plan_write_span(span, sizeof span, &item->window.span, sheet->utc_offset_min);
    fprintf(out, "\n%2d  %s\n", number, text);
    snprintf(text, sizeof text, "%s, up to %.0f° in the %s", span, item->window.best_altitude_deg,
             plan_compass(item->window.best_azimuth_deg));
    if (item->zoom) {
        text_append(text, sizeof text, "; at %g mm, f/%g", item->camera.focal_mm,
                    item->camera.f_number);
    }
    fputs("    ", out);
    options_write_wrapped(out, text, 4, 4, terminal_columns(out));
    fputs("    ", out);
    options_write_wrapped(out, item->reason, 4, 4, terminal_columns(out));
    if (item->members > 1) {
        text[0] = '\0';
        plan_write_members(text, sizeof text, "in the same frame: ", item);
        fputs("    ", out);
        options_write_wrapped(out, text, 4, 4, terminal_columns(out));
    }
}

void plan_report_night(FILE *out, const struct plan_sheet *sheet, const struct plan *plan)
{
    char text[LINE], span[24];
    if (plan->count) {
        const struct plan_item *best = &plan->item[0];
        plan_write_name(text, sizeof text, best);
        plan_write_span(span, sizeof span, &best->window.span, sheet->utc_offset_min);
        fprintf(out, "Best: %s, %s\n", text, span);
    } else if (!sheet->night->dark.any) {
        fprintf(out, "Nothing to shoot: it %s.\n",
                darkness_whole(sheet->night)->any ? "is not dark in your hours"
                                                  : "does not get dark");
    } else {
        fprintf(out, "Nothing that suits this lens is above %.0f° in the dark.\n",
                sheet->settings->least_altitude_deg);
    }
    write_night(out, sheet);
    plan_write_arch(text, sizeof text, &plan->arch, sheet->utc_offset_min);
    write_row(out, "Milky Way", text);
    write_camera(out, sheet);
    for (int i = 0; i < plan->count; i++) {
        write_choice(out, sheet, &plan->item[i], i + 1);
    }
    if (plan->count) {
        fputs("\nMore of one: alidade plan --target NAME\n", out);
    }
}

static void write_frame(FILE *out, const struct plan_sheet *sheet)
{
    const struct plan_item *item = sheet->item;
    char text[LINE];
    plan_write_zoom(text, sizeof text, item, sheet->settings);
    write_row(out, "zoom", text);
    plan_write_hold(text, sizeof text, item);
    plan_write_members(text, sizeof text, "; also in it: ", item);
    write_row(out, "frame", text);
    plan_write_middle(text, sizeof text, item);
    write_row(out, "middle", text);
}

static void write_way(FILE *out, const struct plan_sheet *sheet)
{
    const struct approach *approach = sheet->approach;
    char text[STEPS], frames[120], clock[8];
    plan_write_clock(clock, sizeof clock, sheet->item->begin, sheet->utc_offset_min);
    snprintf(text, sizeof text, "%s: ", clock);
    plan_write_start(text + strlen(text), sizeof text - strlen(text), sheet);
    write_row(out, "find it", text);
    for (int i = 1; i < approach->stops; i++) {
        plan_write_move(text, sizeof text, &approach->stop[i], sheet->item);
        plan_write_stop_frames(frames, sizeof frames, sheet, i);
        text_append(text, sizeof text, "%s%s", frames[0] ? ": " : "", frames);
        write_row(out, "", text);
    }
    plan_write_star_steps(text, sizeof text, sheet);
    write_row(out, "", text);
}

static void write_work(FILE *out, const struct plan_sheet *sheet)
{
    char text[LINE], advice[PLAN_ADVICE][PLAN_ADVICE_SIZE];
    plan_write_shots(text, sizeof text, sheet->item);
    write_row(out, "shoot", text);
    plan_write_exposure(text, sizeof text, sheet);
    text_append(text, sizeof text, "; choose with --trail, or trail = in the settings file");
    write_row(out, "", text);
    plan_write_recentring(text, sizeof text, sheet);
    write_row(out, "re-centre", text);
    plan_write_smear(text, sizeof text, sheet);
    if (text[0] && plan_corner_distortion(&sheet->settings->camera) == 0) {
        text_append(text, sizeof text, ": --distortion, or alidade solve --learn-lens");
    }
    write_row(out, "", text);
    plan_write_turn(text, sizeof text, sheet);
    write_row(out, "", text);
    int lines = plan_write_signal(advice, sheet);
    for (int i = 0; i < lines; i++) {
        write_row(out, i ? "" : "depth", advice[i]);
    }
}

static void write_cautions(FILE *out, const struct plan_sheet *sheet)
{
    const struct approach *approach = sheet->approach;
    char text[LINE];
    if (!sheet->night->dark.any && sheet->night->sun_lowest_deg > SUN_MOON_RISE_SET) {
        write_row(out, "caution", "the Sun stays up: never point a lens or an eye at it");
    } else if (approach->sun_altitude_deg > SUN_MOON_RISE_SET) {
        snprintf(text, sizeof text,
                 "the Sun is up, %.0f° high: never point a lens or an eye at it; the sweep keeps "
                 "%.0f° away",
                 approach->sun_altitude_deg, approach->sun_nearest_deg);
        write_row(out, "caution", approach->found ? text : "the Sun is up: leave it until dark");
    }
    if (sheet->night->dark.any) {
        plan_write_zenith(text, sizeof text, sheet);
        write_row(out, "zenith", text);
    }
    if (sheet->item->member[0].object->type >= OBJECT_PLANET) {
        write_row(out, "exposure",
                  "that of the stars around it: its own disc needs far less, bracket from 1/250 s");
    }
    write_row(out, "care", "watch your footing, and respect local access rules after dark");
}

void plan_report_target(FILE *out, const struct plan_sheet *sheet)
{
    char text[LINE], window[160];
    const struct plan_item *item = sheet->item;
    bool shows = item->window.span.any;
    plan_write_name(text, sizeof text, item);
    plan_write_window(window, sizeof window, sheet);
    text_append(text, sizeof text, ": %s", window);
    options_write_wrapped(out, text, 0, 2, terminal_columns(out));
    if (shows) {
        write_row(out, "why", item->reason);
        write_frame(out, sheet);
        write_way(out, sheet);
        write_work(out, sheet);
        plan_write_moonlight(text, sizeof text, sheet);
        write_row(out, "moonlight", text);
    }
    plan_write_season(text, sizeof text, sheet);
    write_row(out, "season", text);
    plan_write_moonless(text, sizeof text, sheet);
    write_row(out, "moonless", text);
    write_night(out, sheet);
    write_camera(out, sheet);
    if (item->window.highest_deg > 0) {
        write_cautions(out, sheet);
    }
}
