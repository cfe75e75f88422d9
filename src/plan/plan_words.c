#include "plan/plan_words.h"

#include "base/text.h"
#include "objects/caption.h"
#include "plan/signal_words.h"
#include "tripod/advice.h"

#include <erfa.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static struct utc clock_time(struct utc utc, double utc_offset_min)
{
    return time_add(utc, utc_offset_min * 60);
}

void plan_write_clock(char *out, size_t size, struct utc utc, double utc_offset_min)
{
    char text[32];
    time_write(text, sizeof text, time_add(clock_time(utc, utc_offset_min), 30), 0);
    snprintf(out, size, "%.5s", text + 11);
}

void plan_write_span(char *out, size_t size, const struct dark_span *span, double utc_offset_min)
{
    char start[8], end[8];
    if (!span->any) {
        snprintf(out, size, "never");
    } else if (dark_span_hours(span) > 23.999) {
        snprintf(out, size, "all day");
    } else {
        plan_write_clock(start, sizeof start, span->start, utc_offset_min);
        plan_write_clock(end, sizeof end, span->end, utc_offset_min);
        snprintf(out, size, "%s-%s", start, end);
    }
}

static const char *const months[] = {"January",   "February", "March",    "April",
                                     "May",       "June",     "July",     "August",
                                     "September", "October",  "November", "December"};

void plan_write_date(char *out, size_t size, const struct darkness *night, double utc_offset_min)
{
    int year = 0, month = 1, day = 0, part[4];
    struct utc noon = clock_time(night->noon, utc_offset_min);
    eraD2dtf("UTC", 0, noon.day, noon.fraction, &year, &month, &day, part);
    snprintf(out, size, "%d %s %d", day, months[month - 1], year);
}

void plan_write_day(char *out, size_t size, const struct season_date *date)
{
    snprintf(out, size, "%d %s", date->day, date->any ? months[date->month - 1] : "");
}

void plan_write_zone(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct utc noon = sheet->night->noon, evening = time_add(noon, 8 * 3600);
    struct zone fixed;
    struct utc change;
    zone_fix(&fixed, sheet->utc_offset_min);
    const struct zone *zone = sheet->zone ? sheet->zone : &fixed;
    zone_write(out, size, zone_at(zone, evening));
    if (zone_change(&change, zone, evening, time_add(noon, 86400))) {
        char clock[8], word[24];
        bool back = zone_ahead_min(zone, change) < zone_ahead_min(zone, evening);
        plan_write_clock(clock, sizeof clock, change, sheet->utc_offset_min);
        zone_write_word(word, sizeof word, zone_at(zone, evening));
        text_append(out, size, "; clocks go %s at %s, times here stay %s",
                    back ? "back" : "forward", clock, word);
    }
}

void plan_write_duration(char *out, size_t size, double seconds)
{
    long minutes = lround(seconds / 60);
    if (seconds < 99.5) {
        snprintf(out, size, "%.0f s", seconds);
    } else if (minutes < 60) {
        snprintf(out, size, "%ld min", minutes);
    } else if (minutes % 60 == 0) {
        snprintf(out, size, "%ld h", minutes / 60);
    } else {
        snprintf(out, size, "%ld h %ld min", minutes / 60, minutes % 60);
    }
}

const char *plan_compass(double azimuth_deg)
{
    static const char *const points[] = {"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
                                         "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"};
    return points[(int)lround(azimuth_deg / 22.5) & 15];
}

/* "; below -18° again from 3 August" */
static void append_again(char *out, size_t size, const struct plan_sheet *sheet)
{
    static const int below[DARKNESS_DEPTHS] = {0, 0, 6, 12, 18};
    char day[32];
    if (sheet->dark_again.any) {
        plan_write_day(day, sizeof day, &sheet->dark_again);
        text_append(out, size, "; not below -%d° before %s", below[sheet->night->wanted], day);
    } else {
        text_append(out, size, "; not below -%d° within a year", below[sheet->night->wanted]);
    }
}

void plan_write_dark(char *out, size_t size, const struct plan_sheet *sheet)
{
    static const int below[DARKNESS_DEPTHS] = {0, 0, 6, 12, 18};
    const struct darkness *night = sheet->night;
    const struct dark_span *whole = darkness_whole(night);
    char span[24];
    out[0] = '\0';
    if (whole->any) {
        plan_write_span(span, sizeof span, whole, sheet->utc_offset_min);
        text_append(out, size, "%s, %.1f h with the Sun below -%d°", span, dark_span_hours(whole),
                    below[night->depth]);
        if (!night->below[DARKNESS_ASTRONOMICAL].any) {
            text_append(out, size, " (it gets no darker: -%.0f° at the lowest)",
                        -night->sun_lowest_deg);
        }
    } else if (night->sun_lowest_deg > SUN_MOON_RISE_SET) {
        text_append(out, size, "no night: the Sun does not set (%+.1f° at its lowest)",
                    night->sun_lowest_deg);
    } else {
        text_append(out, size, "no darkness: the Sun only goes down to %.1f°",
                    night->sun_lowest_deg);
    }
    if (night->depth < night->wanted) {
        append_again(out, size, sheet);
    }
}

/* "an hour", "2.5 h" */
static void write_least(char *out, size_t size, double hours)
{
    if (hours == 1) {
        snprintf(out, size, "an hour");
    } else {
        snprintf(out, size, "%.3g h", hours);
    }
}

void plan_write_season(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct season *season = sheet->season;
    char from[32], until[32], least[24];
    out[0] = '\0';
    if (!season) {
        return;
    }
    write_least(least, sizeof least, season->least_hours);
    if (!season->runs && !season->all_year) {
        snprintf(out, size, "none: never above %.0f° for %s in the dark here",
                 sheet->settings->least_altitude_deg, least);
        return;
    }
    if (season->all_year) {
        snprintf(out, size, "all year");
    }
    for (int i = 0; i < season->runs; i++) {
        plan_write_day(from, sizeof from, &season->run[i].from);
        plan_write_day(until, sizeof until, &season->run[i].until);
        text_append(out, size, "%s%s to %s", i ? ", " : "", from, until);
    }
    text_append(out, size, ": above %.0f° for %s or more in the dark",
                sheet->settings->least_altitude_deg, least);
    if (!sheet->item->window.span.any && season->next.any) {
        plan_write_day(from, sizeof from, &season->next);
        text_append(out, size, "; next on %s %d", from, season->next.year);
    }
}

void plan_write_moonless(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct season *season = sheet->season;
    char day[32];
    out[0] = '\0';
    if (!season || (!season->runs && !season->all_year)) {
        return;
    }
    if (!season->nights) {
        snprintf(out, size, "no night with %.3g h of it within 90 days",
                 season->moonless_least_hours);
    }
    for (int i = 0; i < season->nights; i++) {
        plan_write_day(day, sizeof day, &season->moonless[i].date);
        text_append(out, size, "%s%s (%.1f h)", i ? ", " : "", day, season->moonless[i].hours);
    }
}

void plan_write_hours(char *out, size_t size, const struct darkness *night, double utc_offset_min)
{
    char span[24], last[8];
    out[0] = '\0';
    if (!night->own.any) {
        return;
    }
    if (night->dark.any) {
        plan_write_span(span, sizeof span, &night->dark, utc_offset_min);
        text_append(out, size, "%s, %.1f h of dark", span, dark_span_hours(&night->dark));
    } else {
        plan_write_span(span, sizeof span, &night->own, utc_offset_min);
        plan_write_clock(last, sizeof last, darkness_whole(night)->end, utc_offset_min);
        bool over = darkness_whole(night)->any &&
                    time_between(darkness_whole(night)->end, night->own.start) >= 0;
        text_append(out, size, "%s: it is not dark then%s%s", span, over ? ", only until " : "",
                    over ? last : "");
    }
}

/* The first rise and set after the start of the dark, or of the day. */
static void append_moon_events(char *out, size_t size, const struct darkness *night,
                               double utc_offset_min)
{
    bool is_up = night->moon_at_dusk;
    int told = 0;
    for (int i = 0; i < night->moon_events && told < 2; i++) {
        const struct sun_moon_crossing *event = &night->moon[i];
        char clock[8];
        if (night->dark.any && (time_between(night->dark.start, event->utc) < 0 ||
                                time_between(event->utc, night->dark.end) < 0)) {
            continue;
        }
        plan_write_clock(clock, sizeof clock, event->utc, utc_offset_min);
        text_append(out, size, ", %s %s", event->rising ? "rises" : "sets", clock);
        told++;
    }
    if (!told) {
        text_append(out, size, is_up ? ", up all night" : ", not up");
    }
}

void plan_write_moon(char *out, size_t size, const struct darkness *night, double utc_offset_min)
{
    double dark = dark_span_hours(&night->dark);
    snprintf(out, size, "%.0f %% lit%s", night->moon_lit * 100,
             night->moon_lit > 0.985   ? ", full"
             : night->moon_lit < 0.015 ? ", new"
             : night->moon_waxing      ? ", waxing"
                                       : ", waning");
    append_moon_events(out, size, night, utc_offset_min);
    if (dark > 0 && night->moonless_hours > 0.05 && night->moonless_hours < dark - 0.05) {
        text_append(out, size, "; %.1f h dark without it", night->moonless_hours);
    }
}

void plan_write_arch(char *out, size_t size, const struct plan_arch *arch, double utc_offset_min)
{
    char span[24], best[8];
    const struct dark_window *centre = &arch->centre;
    out[0] = '\0';
    if (!arch->any) {
        return;
    }
    plan_write_span(span, sizeof span, &centre->span, utc_offset_min);
    plan_write_clock(best, sizeof best, centre->best, utc_offset_min);
    if (!centre->span.any) {
        snprintf(
            out, size,
            "its centre does not get 10° high in the dark; at %s the arch reaches %.0f° in the %s, "
            "%s the Moon",
            best, arch->apex_deg, plan_compass(arch->apex_azimuth_deg),
            arch->moon_up ? "with" : "without");
        return;
    }
    snprintf(
        out, size,
        "its centre is 10° or higher %s, best %s: %.0f° in the %s; the arch then reaches %.0f° in "
        "the %s, %s the Moon",
        span, best, centre->best_altitude_deg, plan_compass(centre->best_azimuth_deg),
        arch->apex_deg, plan_compass(arch->apex_azimuth_deg), arch->moon_up ? "with" : "without");
}

void plan_write_name(char *out, size_t size, const struct plan_item *item)
{
    caption_full(out, size, item->member[0].object);
}

void plan_write_members(char *out, size_t size, const char *before, const struct plan_item *item)
{
    for (int i = 1; i < item->members; i++) {
        text_append(out, size, "%s", i == 1 ? before : ", ");
        for (const char *id = item->member[i].object->id; *id; id++) {
            char plain[2] = {*id, '\0'};
            text_append(out, size, "%s", *id == ' ' ? "\u00a0" : plain);
        }
    }
}

void plan_write_window(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct dark_window *window = &sheet->item->window;
    double least = sheet->settings->least_altitude_deg, offset = sheet->utc_offset_min;
    char span[24], best[8];
    plan_write_span(span, sizeof span, &window->span, offset);
    plan_write_clock(best, sizeof best, window->best, offset);
    if (window->highest_deg < 0) {
        snprintf(out, size, "it never rises here: %.0f° below the horizon at best",
                 -window->highest_deg);
    } else if (window->span.any) {
        snprintf(out, size, "%s, best %s: %.0f° high in the %s%s", span, best,
                 window->best_altitude_deg, plan_compass(window->best_azimuth_deg),
                 window->from_behind && window->goes_behind ? "; before and after that behind the "
                                                              "skyline"
                 : window->from_behind                      ? "; before that behind the skyline"
                 : window->goes_behind                      ? "; after that behind the skyline"
                                                            : "");
    } else if (window->highest_deg < least) {
        snprintf(out, size, "it never gets above %.0f° here", window->highest_deg);
    } else if (!darkness_whole(sheet->night)->any) {
        snprintf(out, size, "it does not get dark");
    } else if (!sheet->night->dark.any) {
        snprintf(out, size, "it is not dark in your hours");
    } else if (window->behind) {
        snprintf(out, size, "behind the skyline while it is dark and the target above %.0f°",
                 least);
    } else {
        snprintf(out, size, "not above %.0f° while it is dark: %.0f° at %s", least,
                 window->best_altitude_deg, best);
    }
}

void plan_write_zoom(char *out, size_t size, const struct plan_item *item,
                     const struct plan_settings *settings)
{
    const struct lens_range *zoom = &settings->zoom;
    const struct plan_camera *camera = &item->camera;
    out[0] = '\0';
    if (item->zoom == ZOOM_NONE) {
        return;
    }
    snprintf(out, size, "%g mm of %g to %g, f/%g there: ", camera->focal_mm, zoom->shortest_mm,
             zoom->longest_mm, camera->f_number);
    if (item->zoom == ZOOM_LONGEST) {
        text_append(out, size, "the longest, and still at least %.0f %% stays free",
                    100 * (1 - ZOOM_FILL));
    } else if (item->zoom == ZOOM_FITTED) {
        text_append(out, size, "the longest that leaves at least %.0f %% free for drift",
                    100 * (1 - ZOOM_FILL));
    } else if (item->zoom == ZOOM_SHORTEST) {
        text_append(out, size, "the shortest, though less than %.0f %% stays free for drift",
                    100 * (1 - ZOOM_FILL));
    } else {
        text_append(out, size, "the shortest, and still too long");
    }
}

void plan_write_hold(char *out, size_t size, const struct plan_item *item)
{
    const struct group_fit *fit = &item->fit;
    out[0] = '\0';
    if (fit->hold == GROUP_LANDSCAPE) {
        text_append(out, size, "camera level");
    } else if (fit->hold == GROUP_PORTRAIT) {
        text_append(out, size, "camera upright (portrait)");
    } else {
        text_append(out, size, "camera turned %.0f° %s from level", fabs(fit->roll_deg),
                    fit->roll_deg > 0 ? "clockwise" : "anticlockwise");
    }
    if (!fit->fits) {
        text_append(out, size, "; too large for this lens: %.1f times the frame", fit->fill);
    }
}

void plan_write_middle(char *out, size_t size, const struct plan_item *item)
{
    char ra[24], dec[24], first[80];
    text_write_ra(ra, sizeof ra, item->fit.ra_deg);
    text_write_dec(dec, sizeof dec, item->fit.dec_deg);
    caption_id(first, sizeof first, item->member[0].object);
    if (item->composed) {
        snprintf(out, size, "of %s", first);
        plan_write_members(out, size, ", ", item);
    } else {
        snprintf(out, size, "on %s", first);
    }
    text_append(out, size, ": %s %s", ra, dec);
}

void plan_write_shots(char *out, size_t size, const struct plan_item *item)
{
    const struct plan_shots *shots = &item->shots;
    char light[24], clock[24], exposure[16];
    plan_write_duration(light, sizeof light, (double)shots->frames * shots->exposure_s);
    plan_write_duration(clock, sizeof clock, shots->clock_s);
    shutter_write(exposure, sizeof exposure, shots->exposure_s);
    snprintf(out, size, "%ld x %s = %s of light, %s by the clock", shots->frames, exposure, light,
             clock);
}

/* "500 rule" */
static void write_choice(char *out, size_t size, const struct plan_settings *settings)
{
    if (settings->exposure_s > 0) {
        snprintf(out, size, "as given");
    } else {
        trail_choice_write(out, size, &settings->trail);
    }
}

void plan_write_exposure(char *out, size_t size, const struct plan_sheet *sheet)
{
    const char *const names[PLAN_RULES] = {"500 rule", "300 rule", "fine"};
    const struct plan_shots *shots = &sheet->item->shots;
    char choice[32], exposure[16];
    write_choice(choice, sizeof choice, sheet->settings);
    snprintf(out, size, "%s: stars trail %.1f px; ", choice, shots->trail_px);
    int told = 0;
    for (int i = 0; i < PLAN_RULES; i++) {
        bool same = strcmp(choice, names[i]) == 0 ||
                    fabs(shots->rule[i].exposure_s - shots->exposure_s) < 1e-9;
        if (!same) {
            shutter_write(exposure, sizeof exposure, shots->rule[i].exposure_s);
            text_append(out, size, "%s%s %s (%.1f px)", told++ ? ", " : "", names[i], exposure,
                        shots->rule[i].trail_px);
        }
    }
}

void plan_write_times(char *out, size_t size, long times)
{
    snprintf(out, size, times == 1 ? "once" : "%ld times", times);
}

void plan_write_recentring(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct plan_shots *shots = &sheet->item->shots;
    char batch[24], times[24];
    const struct batch_length *length = &shots->batch;
    plan_write_duration(batch, sizeof batch, length->span_s);
    out[0] = '\0';
    if (shots->recentrings == 0) {
        text_append(out, size, "not needed: the target stays in for %s", batch);
        return;
    }
    plan_write_times(times, sizeof times, shots->recentrings);
    text_append(out, size, "every %s = %ld frame%s, %s", batch, length->frames,
                length->frames > 1 ? "s" : "", times);
    batch_write_reason(out + strlen(out), size - strlen(out), length);
}

void plan_write_smear(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct batch_length *length = &sheet->item->shots.batch;
    double share = plan_corner_distortion(&sheet->settings->camera);
    out[0] = '\0';
    if (!plan_knows_smear(sheet->settings)) {
        text_append(
            out, size,
            "by how much stars at the edge then widen depends on how the lens distorts, which "
            "is not known yet");
        return;
    }
    if (!length->has_smear) {
        return;
    }
    text_append(out, size,
                "stars at the edge then widen by %.0f %%: they miss each other by "
                "%.1f px (%s)",
                100 * length->widening, length->smear_px[sheet->settings->accept.align],
                smear_fit_word(sheet->settings->accept.align));
    if (share != 0) {
        text_append(out, size, "; the lens distorts by %+.2g %% (%s)%s", 100 * share,
                    share < 0 ? "barrel" : "pincushion",
                    sheet->settings->camera.lens.radius > 0 ? ", as learned" : "");
    } else {
        text_append(out, size, "; more if the lens distorts");
    }
}

void plan_write_zenith(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct plan_item *item = sheet->item;
    char clock[8];
    out[0] = '\0';
    if (item->highest_deg > ADVICE_HIGH_DEG) {
        plan_write_clock(clock, sizeof clock, item->highest, sheet->utc_offset_min);
        text_append(
            out, size,
            "%.0f° high at %s: so near the zenith 1° across the picture takes %.0f° of pan; "
            "re-centre before and after, or use a ball head",
            item->highest_deg, clock, advice_pan_growth(item->highest_deg));
    }
}

void plan_write_turn(char *out, size_t size, const struct plan_sheet *sheet)
{
    const double least_deg = 15;
    double turn = fabs(sheet->item->turn_deg);
    out[0] = '\0';
    if (turn > least_deg) {
        text_append(
            out, size,
            "a level camera turns by %.0f° on the sky from first to last: its corners will not be "
            "in all frames",
            turn);
    }
}

void plan_write_moonlight(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct plan_item *item = sheet->item;
    double brighter = sheet->settings->sky_mag - item->sky_mag;
    out[0] = '\0';
    if (item->moon_altitude_deg > 0 && brighter >= 0.1) {
        text_append(out, size, "%.0f° away and %.0f° high: the sky is %.1f mag brighter",
                    item->moon_separation_deg, item->moon_altitude_deg, brighter);
    }
}

void plan_write_start(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct approach *approach = sheet->approach;
    char star[80];
    if (approach->found) {
        caption_full(star, sizeof star, approach->stop[0].star);
        snprintf(out, size, "start at %s, %.0f° high in the %s", star,
                 approach->stop[0].altitude_deg, plan_compass(approach->stop[0].azimuth_deg));
    } else if (approach->sun_too_near) {
        snprintf(out, size, "no safe way: every sweep would pass within %.0f° of the Sun",
                 APPROACH_SUN_DEG);
    } else {
        snprintf(out, size, "no bright star to start from");
    }
}

/* "3.1° right"; moves below a tenth of a degree are none. */
static void append_turn(char *out, size_t size, const char *verb, double deg, const char *plus,
                        const char *minus)
{
    text_append(out, size, "%s %.1f° %s", verb, fabs(deg), deg < 0 ? minus : plus);
}

void plan_write_move(char *out, size_t size, const struct approach_stop *stop,
                     const struct plan_item *item)
{
    char name[100] = "the middle of that frame";
    if (stop->star || !item->composed) {
        caption_id(name, sizeof name, stop->star ? stop->star : item->member[0].object);
    }
    out[0] = '\0';
    append_turn(out, size, "pan", stop->pan_deg, "right", "left");
    append_turn(out, size, ", tilt", stop->tilt_deg, "up", "down");
    text_append(out, size, " to %s", name);
}

struct step_frame plan_step_frame(const struct plan_sheet *sheet)
{
    double width, height;
    plan_field(&width, &height, &sheet->settings->camera);
    bool upright = sheet->item->fit.hold == GROUP_PORTRAIT;
    return (struct step_frame){upright ? height : width, upright ? width : height};
}

/* "2½ frame widths right", "¼ of a frame width right"; nothing for less than an eighth. */
static void append_frames(char *out, size_t size, double parts, const char *what, const char *plus,
                          const char *minus)
{
    static const char *const quarters[] = {"", "¼", "½", "¾"};
    int count = (int)lround(4 * fabs(parts)), whole = count / 4;
    if (!count) {
        return;
    }
    text_append(out, size, "%s", out[0] ? ", then " : "");
    if (whole) {
        text_append(out, size, "%d%s %s%s", whole, quarters[count % 4], what, count > 4 ? "s" : "");
    } else {
        text_append(out, size, "%s of a %s", quarters[count % 4], what);
    }
    text_append(out, size, " %s", parts < 0 ? minus : plus);
}

void plan_write_frames(char *out, size_t size, const struct frame_move *move)
{
    out[0] = '\0';
    append_frames(out, size, move->right_widths, "frame width", "right", "left");
    append_frames(out, size, move->up_heights, out[0] ? "height" : "frame height", "up", "down");
}

void plan_write_stop_frames(char *out, size_t size, const struct plan_sheet *sheet, int i)
{
    const struct approach_stop *stop = sheet->approach->stop;
    const struct step_frame frame = plan_step_frame(sheet);
    struct frame_move move;
    frame_move_find(&move, &stop[i - 1], &stop[i], &frame);
    plan_write_frames(out, size, &move);
}

/* "0.3 widths left, 0.2 heights up" of the star before. */
static void append_from_before(char *out, size_t size, const struct frame_move *at)
{
    const double least = 0.05;
    bool beside = fabs(at->right_widths) >= least, above = fabs(at->up_heights) >= least;
    if (beside) {
        text_append(out, size, "%.1f widths %s", fabs(at->right_widths),
                    at->right_widths < 0 ? "left" : "right");
    }
    if (above) {
        text_append(out, size, "%s%.1f heights %s", beside ? ", " : "", fabs(at->up_heights),
                    at->up_heights < 0 ? "down" : "up");
    }
    if (!beside && !above) {
        text_append(out, size, "beside it");
    }
}

void plan_write_star_steps(char *out, size_t size, const struct plan_sheet *sheet)
{
    const struct star_steps *steps = sheet->star_steps;
    char name[80];
    out[0] = '\0';
    if (!steps || steps->steps < 1) {
        return;
    }
    caption_id(name, sizeof name, sheet->approach->stop[0].star);
    text_append(out, size, "or star by star, each in one frame with the next: %s", name);
    for (int i = 0; i < steps->steps; i++) {
        const struct object *star = steps->step[i].star;
        caption_id(name, sizeof name, star ? star : sheet->item->member[0].object);
        bool to_middle = !star && sheet->item->composed;
        text_append(out, size, ", then %s (", to_middle ? "the middle of that frame" : name);
        append_from_before(out, size, &steps->step[i].from_before);
        text_append(out, size, ")");
    }
}

int plan_write_signal(char line[PLAN_ADVICE][PLAN_ADVICE_SIZE], const struct plan_sheet *sheet)
{
    const struct plan_item *item = sheet->item;
    int lines = 0;
    if (!item->has_signal) {
        return 0;
    }
    char total[24], once[16], patch[16];
    signal_write_ratio(once, sizeof once, item->snr);
    signal_write_ratio(patch, sizeof patch, 10 * item->snr);
    plan_write_duration(total, sizeof total, (double)item->shots.frames * item->shots.exposure_s);
    snprintf(line[lines++], PLAN_ADVICE_SIZE,
             "%s of light: S/N %s per pixel, %s in patches of 10 x 10 px", total, once, patch);
    signal_write_wanted(line[lines++], PLAN_ADVICE_SIZE, &item->outlook);
    signal_write_noise(line[lines++], PLAN_ADVICE_SIZE, &item->outlook);
    signal_write_instead(line[lines++], PLAN_ADVICE_SIZE, &item->outlook);
    return lines;
}
