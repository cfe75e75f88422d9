/* plan/plan_words.h: a plan in words and clock times, for reports and for the field card. All
 * texts are UTF-8, cut to size, without a full stop. */
#ifndef ALIDADE_PLAN_PLAN_WORDS_H
#define ALIDADE_PLAN_PLAN_WORDS_H

#include "plan/approach.h"
#include "plan/plan.h"
#include "plan/season.h"
#include "plan/star_steps.h"
#include "sky/zone.h"

#include <stdbool.h>
#include <stddef.h>

/* All that is known of one target in one night. Borrows everything. */
struct plan_sheet {
    const struct plan_settings *settings;
    const struct darkness *night;
    const struct plan_item *item;
    const struct approach *approach; /* when the item begins */
    const struct objects *objects;
    double utc_offset_min;   /* of the clock that times are told in, all night */
    const struct zone *zone; /* it is of; NULL: not known */
    const char *place, *camera;
    const struct star_steps *star_steps; /* of the approach; NULL: none were looked for */
    const struct season *season;         /* of the item; NULL: it moves */
    /* Of a night that is not as dark as was wanted, the next that is. */
    struct season_date dark_again;
};

/* "19:31" by a clock so many minutes ahead of UTC; to the nearest minute. */
void plan_write_clock(char *out, size_t size, struct utc utc, double utc_offset_min);
/* "19:31-22:07", "all day" if it fills the night from noon to noon, "never". */
void plan_write_span(char *out, size_t size, const struct dark_span *span, double utc_offset_min);
/* "24 February 2026" of the evening. */
void plan_write_date(char *out, size_t size, const struct darkness *night, double utc_offset_min);
/* "CEST (UTC+02:00)", also that clocks are changed in that night. */
void plan_write_zone(char *out, size_t size, const struct plan_sheet *sheet);
/* "45 s", "5 min", "1 h 30 min". */
void plan_write_duration(char *out, size_t size, double seconds);
/* "N", "SSE": of an azimuth. */
const char *plan_compass(double azimuth_deg);

/* "3 August". */
void plan_write_day(char *out, size_t size, const struct season_date *date);
/* "19:20-05:15, 9.9 h with the Sun below -18°", or why it does not get dark, and when again. */
void plan_write_dark(char *out, size_t size, const struct plan_sheet *sheet);
/* "14 September to 27 April: above 30° for an hour or more in the dark; next on 14 September 2026";
 * "" for what moves. */
void plan_write_season(char *out, size_t size, const struct plan_sheet *sheet);
/* "nights with 2 h or more of it in the dark: 4 December (2.3 h), 5 December (3.1 h)"; "" likewise.
 */
void plan_write_moonless(char *out, size_t size, const struct plan_sheet *sheet);
/* Of hours of one's own: "22:00-01:30, 3.5 h of dark", or that it is not dark then; "" of a whole
 * night. */
void plan_write_hours(char *out, size_t size, const struct darkness *night, double utc_offset_min);
/* "55 % lit, waxing, sets 02:31; 2.7 h dark without it". */
void plan_write_moon(char *out, size_t size, const struct darkness *night, double utc_offset_min);
/* "its centre is 10° or higher 22:40-00:30, best 23:40: 11° in the S; the arch then reaches 62° in
 * the E, without the Moon"; "" if there is none. */
void plan_write_arch(char *out, size_t size, const struct plan_arch *arch, double utc_offset_min);
/* "M 42 (Orion Nebula)". */
void plan_write_name(char *out, size_t size, const struct plan_item *item);
/* Adds "also in it: M 43, NGC 1977", nothing if there is no more; before is how it begins. Blanks
 * within a designation are such as no line breaks at. */
void plan_write_members(char *out, size_t size, const char *before, const struct plan_item *item);
/* "19:20-22:07, best 19:31: 35° high in the S", or why it is not up. */
void plan_write_window(char *out, size_t size, const struct plan_sheet *sheet);
/* "180 mm of 70 to 300 at f/5: the longest at which ..."; "" if the lens is no zoom. */
void plan_write_zoom(char *out, size_t size, const struct plan_item *item,
                     const struct plan_settings *settings);
/* "camera level", "camera upright", "camera turned 30° clockwise from level"; of what does not fit
 * also by how much. */
void plan_write_hold(char *out, size_t size, const struct plan_item *item);
/* "on M 42, 05h35m16.5s -05°23'28\"", "between M 42 and M 43, ...". */
void plan_write_middle(char *out, size_t size, const struct plan_item *item);
/* "1800 x 2 s = 1 h of light, 1 h 30 min by the clock". */
void plan_write_shots(char *out, size_t size, const struct plan_item *item);
/* "500 rule: stars trail 9.8 px; 300 rule 1 s (4.9 px), fine 0.6 s (3.0 px); ...". */
void plan_write_exposure(char *out, size_t size, const struct plan_sheet *sheet);
/* "once", "17 times". */
void plan_write_times(char *out, size_t size, long times);
/* "every 5 min = 100 frames, 17 times: the frame has no room for more drift". */
void plan_write_recentring(char *out, size_t size, const struct plan_sheet *sheet);
/* "stars at the edge then widen by 4 %: they miss each other by 1.2 px (homography); ...". */
void plan_write_smear(char *out, size_t size, const struct plan_sheet *sheet);
/* What a target near the zenith does to pans, and how far the picture turns on the sky meanwhile;
 * "" where that does not matter. */
void plan_write_zenith(char *out, size_t size, const struct plan_sheet *sheet);
void plan_write_turn(char *out, size_t size, const struct plan_sheet *sheet);
/* "Moon 62° away and 38° high: the sky is 0.8 mag brighter", "" if it does not matter. */
void plan_write_moonlight(char *out, size_t size, const struct plan_sheet *sheet);
/* "start at Rigel (high 28° in the SSW)"; then each move: "pan 3.1° right, tilt 1.2° up to Saiph".
 */
void plan_write_start(char *out, size_t size, const struct plan_sheet *sheet);
void plan_write_move(char *out, size_t size, const struct approach_stop *stop,
                     const struct plan_item *item);

/* The frame as the camera is held for an item; one that is turned counts as level. */
struct step_frame plan_step_frame(const struct plan_sheet *sheet);
/* A move in frames, to a quarter: "2½ frame widths right, then ¾ of a height up"; "" for one that
 * is less than an eighth. */
void plan_write_frames(char *out, size_t size, const struct frame_move *move);
/* Of stop i of the approach, counted from 1: the same from the stop before. */
void plan_write_stop_frames(char *out, size_t size, const struct plan_sheet *sheet, int i);
/* "or star by star, each in one frame with the next: Rigel, then τ Ori (0.3 widths left, 0.2
 * heights up), then M 42 (...)"; "" if there is no such way. */
void plan_write_star_steps(char *out, size_t size, const struct plan_sheet *sheet);

enum { PLAN_ADVICE = 6, PLAN_ADVICE_SIZE = 200 };

/* Signal to noise: what the total brings, the frames that reach the goal, what limits it, what a
 * darker sky, a longer exposure or a faster lens would change. Returns how many lines. */
int plan_write_signal(char line[PLAN_ADVICE][PLAN_ADVICE_SIZE], const struct plan_sheet *sheet);

#endif
