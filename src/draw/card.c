#include "draw/card.h"

#include "base/text.h"
#include "draw/finder.h"
#include "objects/caption.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double left = 36, right = PAGE_WIDTH - 36, inner = PAGE_WIDTH - 72;

enum { LINE = 400 };

static void rule(struct page *page, double y)
{
    page_ink(page, PAGE_INK);
    cairo_set_line_width(page->cairo, 0.8);
    cairo_move_to(page->cairo, left, y);
    cairo_line_to(page->cairo, right, y);
    cairo_stroke(page->cairo);
}

static void draw_title(struct page *page, const struct plan_sheet *sheet)
{
    const struct page_type small = {10.5, false, PAGE_SOFT, PAGE_LEFT};
    const struct page_type small_right = {10.5, false, PAGE_SOFT, PAGE_RIGHT};
    const struct page_type large = {40, true, PAGE_INK, PAGE_LEFT};
    const struct page_type name = {23, false, PAGE_INK, PAGE_LEFT};
    char text[LINE], date[40], zone[100], common[100];
    plan_write_date(date, sizeof date, sheet->night, sheet->utc_offset_min);
    plan_write_zone(zone, sizeof zone, sheet);
    snprintf(text, sizeof text, "night of %s, clock at %s", date, zone);
    page_text(page, &small, left, 44, text);
    page_text(page, &small_right, right, 44, sheet->place);
    caption_id(text, sizeof text, sheet->item->member[0].object);
    caption_common(common, sizeof common, sheet->item->member[0].object);
    double width = fmin(page_text_width(page, &large, text), inner);
    page_text_fit(page, &large, left, 86, inner, text);
    if (common[0] && strcmp(common, text) != 0 && width < inner - 80) {
        page_text_fit(page, &name, left + width + 14, 86, inner - width - 14, common);
    }
}

/* A framed cell with the answer large and what belongs to it small. */
static void draw_cell(struct page *page, int place, const char *title, const char *answer,
                      const char *first, const char *second)
{
    const double gap = 8, width = (inner - 3 * gap) / 4, x = left + place * (width + gap), y = 100;
    const struct page_type head = {9, true, PAGE_SOFT, PAGE_LEFT};
    const struct page_type large = {24, true, PAGE_INK, PAGE_LEFT};
    const struct page_type small = {9.5, false, PAGE_INK, PAGE_LEFT};
    page_ink(page, PAGE_INK);
    cairo_set_line_width(page->cairo, 1.2);
    cairo_rectangle(page->cairo, x, y, width, 78);
    cairo_stroke(page->cairo);
    page_text(page, &head, x + 8, y + 16, title);
    page_text_fit(page, &large, x + 8, y + 43, width - 16, answer);
    page_text_fit(page, &small, x + 8, y + 58, width - 16, first);
    page_text_fit(page, &small, x + 8, y + 70, width - 16, second);
}

static void draw_answers(struct page *page, const struct plan_sheet *sheet)
{
    const struct plan_item *item = sheet->item;
    const struct plan_shots *shots = &item->shots;
    const struct plan_camera *camera = &sheet->settings->camera;
    char answer[40], first[80], second[80], clock[24], light[24], span[24];
    plan_write_clock(answer, sizeof answer, item->begin, sheet->utc_offset_min);
    plan_write_span(span, sizeof span, &item->window.span, sheet->utc_offset_min);
    snprintf(first, sizeof first, "up %s", span);
    plan_write_clock(clock, sizeof clock, item->window.best, sheet->utc_offset_min);
    snprintf(second, sizeof second, "highest at %s: %.0f° %s", clock,
             item->window.best_altitude_deg, plan_compass(item->window.best_azimuth_deg));
    draw_cell(page, 0, "BEGIN AT", answer, first, second);

    shutter_write(answer, sizeof answer, shots->exposure_s);
    snprintf(first, sizeof first, "%g mm at f/%g", camera->focal_mm, camera->f_number);
    snprintf(second, sizeof second, "stars trail %.1f px", shots->trail_px);
    draw_cell(page, 1, "EXPOSURE", answer, first, second);

    snprintf(answer, sizeof answer, "%ld", shots->frames);
    plan_write_duration(light, sizeof light, (double)shots->frames * shots->exposure_s);
    plan_write_duration(clock, sizeof clock, shots->clock_s);
    snprintf(first, sizeof first, "%s of light,", light);
    snprintf(second, sizeof second, "%s by the clock", clock);
    draw_cell(page, 2, "FRAMES", answer, first, second);

    plan_write_duration(clock, sizeof clock, shots->batch.span_s);
    if (shots->recentrings) {
        snprintf(answer, sizeof answer, "%ld frames", shots->batch.frames);
        snprintf(first, sizeof first, "every %s,", clock);
        plan_write_times(second, sizeof second, shots->recentrings);
    } else {
        snprintf(answer, sizeof answer, "never");
        snprintf(first, sizeof first, "it stays in for %s", clock);
        second[0] = '\0';
    }
    draw_cell(page, 3, "RE-CENTRE AFTER", answer, first, second);
}

static double heading(struct page *page, double x, double y, const char *text)
{
    const struct page_type type = {11, true, PAGE_SOFT, PAGE_LEFT};
    page_text(page, &type, x, y, text);
    return y + 17;
}

/* The column beside the chart. */
static void draw_steps(struct page *page, double x, double y, double width,
                       const struct plan_sheet *sheet)
{
    const struct page_type strong = {13, true, PAGE_INK, PAGE_LEFT};
    const struct page_type plain = {11.5, false, PAGE_INK, PAGE_LEFT};
    const struct page_type small = {9.5, false, PAGE_INK, PAGE_LEFT};
    const struct approach *approach = sheet->approach;
    char text[LINE], name[100], middle[LINE - 8];
    y = heading(page, x, y, "FIND IT");
    if (!approach->found) {
        plan_write_start(text, sizeof text, sheet);
        y = page_paragraph(page, &plain, x, y, width, text) + 6;
    }
    for (int i = 0; i < approach->stops; i++) {
        const struct approach_stop *stop = &approach->stop[i];
        caption_id(name, sizeof name, stop->star ? stop->star : sheet->item->member[0].object);
        if (i == 0) {
            page_text_fit(page, &strong, x, y, width, name);
            snprintf(text, sizeof text, "%.0f° high in the %s", stop->altitude_deg,
                     plan_compass(stop->azimuth_deg));
            y = page_paragraph(page, &plain, x, y + 15, width, text) + 6;
            continue;
        }
        snprintf(text, sizeof text, "pan %.1f° %s", fabs(stop->pan_deg),
                 stop->pan_deg < 0 ? "left" : "right");
        page_text_fit(page, &strong, x, y, width, text);
        snprintf(text, sizeof text, "tilt %.1f° %s", fabs(stop->tilt_deg),
                 stop->tilt_deg < 0 ? "down" : "up");
        page_text_fit(page, &strong, x, y + 16, width, text);
        y += 32;
        plan_write_stop_frames(text, sizeof text, sheet, i);
        y = text[0] ? page_paragraph(page, &small, x, y - 2, width, text) + 4 : y;
        bool to_middle = !stop->star && sheet->item->composed;
        snprintf(text, sizeof text, "to %s", to_middle ? "the middle of the frame" : name);
        y = page_paragraph(page, &plain, x, y - 1, width, text) + 6;
    }
    y = heading(page, x, y + 8, "FRAME");
    plan_write_hold(text, sizeof text, sheet->item);
    text[0] = text[0] == 'c' ? 'C' : text[0];
    y = page_paragraph(page, &plain, x, y, width, text);
    if (sheet->item->members > 1) {
        text[0] = '\0';
        plan_write_members(text, sizeof text, "also in it: ", sheet->item);
        y = page_paragraph(page, &plain, x, y, width, text);
    }
    plan_write_middle(middle, sizeof middle, sheet->item);
    snprintf(text, sizeof text, "Middle %s", middle);
    y = page_paragraph(page, &plain, x, y, width, text);
    double across, along;
    plan_field(&across, &along, &sheet->settings->camera);
    snprintf(text, sizeof text, "%.1f° x %.1f°, %.2f\"/px", across, along,
             plan_scale_arcsec(&sheet->settings->camera));
    y = page_paragraph(page, &plain, x, y, width, text);
    y = page_paragraph(page, &plain, x, y + 6, width,
                       "Then take a test frame: alidade aim shows what is left to turn.");
    plan_write_zenith(text, sizeof text, sheet);
    page_paragraph(page, &small, x, y + 6, width, text);
}

static void draw_finder(struct page *page, const struct plan_sheet *sheet,
                        const struct figures *figures)
{
    const struct finder_box box = {left, 192, 356, 322};
    const struct page_type small = {9, false, PAGE_SOFT, PAGE_LEFT};
    char text[LINE], clock[8];
    finder_draw(page, &box, sheet, figures);
    plan_write_clock(clock, sizeof clock, sheet->item->begin, sheet->utc_offset_min);
    snprintf(text, sizeof text, "The view at %s, horizon down, with your frame to scale.", clock);
    page_text(page, &small, left, box.y + box.height + 12, text);
    draw_steps(page, box.x + box.width + 16, 204, right - box.x - box.width - 16, sheet);
}

/* A box to tick, and what it is about. */
static double tick(struct page *page, double x, double y, double width, const char *text)
{
    const struct page_type type = {10.5, false, PAGE_INK, PAGE_LEFT};
    page_ink(page, PAGE_INK);
    cairo_set_line_width(page->cairo, 0.9);
    cairo_rectangle(page->cairo, x, y - 8, 8.5, 8.5);
    cairo_stroke(page->cairo);
    return page_paragraph(page, &type, x + 15, y, width - 15, text) + 2;
}

static void draw_settings(struct page *page, double x, double y, double width,
                          const struct plan_sheet *sheet)
{
    char text[LINE];
    y = heading(page, x, y, "CAMERA");
    snprintf(text, sizeof text, "Manual, f/%g, %.2g s, ISO 1600 to 3200, raw files",
             sheet->settings->camera.f_number, sheet->item->shots.exposure_s);
    y = tick(page, x, y, width, text);
    y = tick(page, x, y, width,
             "Manual focus: magnify a bright star, make it as small as you can, tape the ring; "
             "check every hour");
    y = tick(page, x, y, width, "Stabiliser off, noise reduction for long exposures off");
    snprintf(text, sizeof text, "Interval timer or remote, %.2g s between frames",
             sheet->settings->pause_s);
    y = tick(page, x, y, width, text);
    tick(page, x, y, width, "Fixed white balance, screen dim, spare battery, empty card");
}

static void draw_counts(struct page *page, double x, double y, double width,
                        const struct plan_sheet *sheet)
{
    const struct page_type small = {9, false, PAGE_SOFT, PAGE_LEFT};
    char text[LINE];
    y = heading(page, x, y, "LIGHTS AND CALIBRATION");
    snprintf(text, sizeof text, "%ld lights of %.2g s", sheet->item->shots.frames,
             sheet->item->shots.exposure_s);
    y = tick(page, x, y, width, text);
    snprintf(text, sizeof text,
             "%d darks: lens capped, same exposure and ISO, right after the lights", CARD_DARKS);
    y = tick(page, x, y, width, text);
    snprintf(text, sizeof text, "%d bias: lens capped, fastest shutter, same ISO", CARD_BIAS);
    y = tick(page, x, y, width, text);
    snprintf(text, sizeof text,
             "%d flats: even light, same focus and aperture, a third to a half of the histogram",
             CARD_FLATS);
    y = tick(page, x, y, width, text);
    page_paragraph(page, &small, x, y, width, "Counts and settings are common practice.");
}

static void draw_sky(struct page *page, double y, const struct plan_sheet *sheet)
{
    const struct page_type type = {10.5, false, PAGE_INK, PAGE_LEFT};
    char text[LINE], line[2 * LINE], clock[8], hours[80];
    const struct dark_span *civil = &sheet->night->below[DARKNESS_CIVIL];
    y = heading(page, left, y, "MOON, SUN AND SAFETY");
    plan_write_moon(text, sizeof text, sheet->night, sheet->utc_offset_min);
    snprintf(line, sizeof line, "Moon: %s", text);
    plan_write_moonlight(text, sizeof text, sheet);
    text_append(line, sizeof line, "%s%s.", text[0] ? "; " : "", text);
    y = page_paragraph(page, &type, left, y, inner, line) + 2;
    plan_write_dark(text, sizeof text, sheet);
    plan_write_hours(hours, sizeof hours, sheet->night, sheet->utc_offset_min);
    text_append(text, sizeof text, "%s%s", hours[0] ? "; your hours " : "", hours);
    plan_write_clock(clock, sizeof clock, civil->end, sheet->utc_offset_min);
    bool ends = civil->any && dark_span_hours(civil) < 23.9;
    snprintf(line, sizeof line, "Dark: %s.%s%s%s", text, ends ? " Cap the lens before " : "",
             ends ? clock : "", ends ? "." : "");
    y = page_paragraph(page, &type, left, y, inner, line) + 2;
    page_paragraph(page, &type, left, y, inner,
                   "Never point a lens, a finder or an eye at the Sun. Watch your footing, weigh "
                   "down the tripod, respect local access rules after dark.");
}

static void draw_depth(struct page *page, double y, const struct plan_sheet *sheet)
{
    const struct page_type type = {9.5, false, PAGE_SOFT, PAGE_LEFT};
    char line[PLAN_ADVICE][PLAN_ADVICE_SIZE], text[2 * PLAN_ADVICE_SIZE + 8];
    if (plan_write_signal(line, sheet) >= 2) {
        snprintf(text, sizeof text, "%s. %s.", line[0], line[1]);
        page_paragraph(page, &type, left, y, inner, text);
    }
}

int card_write(const struct file_target *target, enum page_format format, bool red,
               const struct plan_sheet *sheet, const struct figures *figures, struct error *err)
{
    struct page page = {0};
    char title[160], date[32];
    caption_full(title, sizeof title, sheet->item->member[0].object);
    time_write(date, sizeof date, sheet->night->noon, 0);
    int code = page_open(&page, format, red, title, date, err);
    if (!code) {
        draw_title(&page, sheet);
        draw_answers(&page, sheet);
        draw_finder(&page, sheet, figures);
        rule(&page, 540);
        draw_settings(&page, left, 558, 262, sheet);
        draw_counts(&page, left + 286, 558, inner - 286, sheet);
        rule(&page, 702);
        draw_sky(&page, 720, sheet);
        draw_depth(&page, 816, sheet);
        code = page_save(&page, target, err);
    }
    page_free(&page);
    return code;
}
