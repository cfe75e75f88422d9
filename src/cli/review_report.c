#include "cli/review_report.h"

#include "base/csv.h"
#include "base/file.h"
#include "base/utf8.h"

#include <math.h>
#include <string.h>

static void write_line(FILE *out, const char *label, const char *text)
{
    fprintf(out, "  %-9s ", label);
    utf8_write_shown(out, text);
    fputc('\n', out);
}

static void write_counts(FILE *out, const struct review *review)
{
    fprintf(out, "  %-9s %d kept, %d doubtful, %d dropped", "frames", review->count[JUDGE_KEEP],
            review->count[JUDGE_DOUBTFUL], review->count[JUDGE_DROP]);
    if (review->count[JUDGE_APART]) {
        fprintf(out, "; %d not lights: ", review->count[JUDGE_APART]);
        const char *comma = "";
        for (int kind = 0; kind <= KIND_SCENE; kind++) {
            if (review->kind[kind]) {
                fprintf(out, "%s%d %s", comma, review->kind[kind],
                        frame_kind_key((enum frame_kind)kind));
                comma = ", ";
            }
        }
    }
    fputc('\n', out);
}

static void write_causes(FILE *out, const struct review *review)
{
    static const char *const words[JUDGE_CAUSES] = {
        [JUDGE_UNREAD] = "could not be read", [JUDGE_UNSOLVED] = "no solution",
        [JUDGE_BLUR] = "camera moved",        [JUDGE_STARS] = "few stars",
        [JUDGE_WIDTH] = "wide stars",         [JUDGE_LENGTH] = "trailed stars",
        [JUDGE_SKY] = "bright sky",           [JUDGE_PLACE] = "target not fully in the frame",
        [JUDGE_PARTS] = "parts hidden or dim"};
    const char *comma = "";
    if (review->count[JUDGE_DOUBTFUL] + review->count[JUDGE_DROP] == 0) {
        return;
    }
    fprintf(out, "  %-9s ", "why not");
    for (int cause = 0; cause < JUDGE_CAUSES; cause++) {
        if (review->by_cause[cause] && words[cause]) {
            fprintf(out, "%s%s %d", comma, words[cause], review->by_cause[cause]);
            comma = ", ";
        }
    }
    fputc('\n', out);
}

static void write_night(FILE *out, const struct review *review)
{
    char from[24], to[24], length[40];
    if (!review->clock) {
        write_line(out, "night", "no frame says when it was taken");
        return;
    }
    review_write_time(from, sizeof from, review, 0);
    review_write_time(to, sizeof to, review, review->length_s);
    review_write_duration(length, sizeof length, review->length_s);
    fprintf(out, "  %-9s %s to %s%s, %s, %d batch%s\n", "night", from, to,
            review->clock == NIGHT_CLOCK_UTC     ? " UTC"
            : review->clock == NIGHT_CLOCK_LOCAL ? " by the camera's clock"
                                                 : " by file times",
            length, review->batches, review->batches == 1 ? "" : "es");
}

static void write_crop(FILE *out, const struct review *review)
{
    const struct review_cover *cover = &review->cover;
    char held[120];
    if (review->reference < 0) {
        return;
    }
    write_line(out, "align to", review->frame[review->reference].frame->name);
    if (cover->crop_width > 0) {
        fprintf(
            out,
            "  %-9s %.0f x %.0f px at x %.0f, y %.0f of that frame, %.0f %% of it: in every kept "
            "frame",
            "crop", cover->crop_width, cover->crop_height, cover->crop_left, cover->crop_top,
            100 * cover->crop_width * cover->crop_height /
                ((double)review->frame[review->reference].frame->width *
                 review->frame[review->reference].frame->height));
        bool cut = cover->crop_holds < cover->rims && review_write_crop(held, sizeof held, review);
        fprintf(out, "%s%s\n", cut ? "; " : "", cut ? held : "");
    } else {
        write_line(out, "crop", "no part of the sky is in every kept frame");
    }
}

static void write_place(FILE *out, const struct review *review)
{
    double middle = review->target_s[1][1];
    if (!review->has_target || !(review->kept_s > 0)) {
        return;
    }
    fprintf(out, "  %-9s in the middle ninth of the frame for %.0f %% of the kept time", "target",
            100 * middle / review->kept_s);
    if (review->outside_s > 0) {
        fprintf(out, ", out of it for %.0f %%", 100 * review->outside_s / review->kept_s);
    }
    fputc('\n', out);
}

static void write_events(FILE *out, const struct review *review)
{
    enum { MOST = 12 };
    for (int i = 0; i < review->events && i < MOST; i++) {
        const struct review_event *event = &review->event[i];
        char from[24], to[24], words[120];
        review_write_time(from, sizeof from, review, review->frame[event->first].time_s);
        review_write_time(to, sizeof to, review, review->frame[event->last].time_s);
        review_write_event(words, sizeof words, event);
        fprintf(out, "  %-9s ", i ? "" : "events");
        if (event->last > event->first) {
            fprintf(out, "%s to %s  %s\n", from, to, words);
        } else {
            fprintf(out, "%s              %s\n", from, words);
        }
    }
    if (review->events > MOST) {
        fprintf(out, "  %-9s and %d more, see --html\n", "", review->events - MOST);
    }
}

/* Stacking with rejection takes them out, so that the frames stay. */
static void write_crossed(FILE *out, const struct review *review)
{
    char text[900];
    review_write_crossed(text, sizeof text, review);
    if (text[0]) {
        write_line(out, "crossed", text);
    }
}

static void write_copies(FILE *out, const struct review *review)
{
    char text[900];
    review_write_copies(text, sizeof text, review);
    if (text[0]) {
        write_line(out, "copies", text);
    }
}

static void write_needs(FILE *out, const struct review *review)
{
    for (int i = 0; i < review->needs; i++) {
        const struct review_need *need = &review->need[i];
        char iso[32] = "";
        if (need->iso > 0) {
            snprintf(iso, sizeof iso, ", ISO %.0f", need->iso);
        }
        fprintf(out, "  %-9s %d of %d for the %d lights of %.4g s%s\n", "darks", need->darks,
                REVIEW_DARKS, need->lights, need->exposure_s, iso);
    }
    if (review->needs) {
        fprintf(out, "  %-9s %d of %d; flats %d of %d\n", "bias", review->kind[KIND_BIAS],
                REVIEW_BIAS, review->kind[KIND_FLAT], REVIEW_FLATS);
    }
}

static void write_stack(FILE *out, const struct emergence *emergence)
{
    char text[EMERGENCE_TEXT];
    if (!emergence) {
        return;
    }
    emergence_write(text, sizeof text, emergence);
    write_line(out, "stack", text);
    emergence_write_broken(text, sizeof text, emergence);
    if (text[0]) {
        write_line(out, "", text);
    }
    emergence_write_frames(text, sizeof text, emergence);
    write_line(out, "", text);
    write_line(out, "", emergence_caution);
}

/* Before what is told in its times. */
static void write_clock_doubt(FILE *out, const struct review *review)
{
    char text[300];
    clock_doubt_write(text, sizeof text, &review->clock_doubt);
    if (text[0]) {
        write_line(out, "clock", text);
    }
}

void review_report_text(FILE *out, const struct review *review, const struct emergence *emergence)
{
    char text[200], advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE];
    int count = review_advise(advice, review);
    review_write_answer(text, sizeof text, review);
    fprintf(out, "%s\n", text);
    write_clock_doubt(out, review);
    write_counts(out, review);
    write_copies(out, review);
    write_causes(out, review);
    write_night(out, review);
    if (review->plan && review->plan->hours[0]) {
        write_line(out, "planned", review->plan->hours);
    }
    write_place(out, review);
    write_crop(out, review);
    write_events(out, review);
    write_crossed(out, review);
    write_needs(out, review);
    write_stack(out, emergence);
    for (int i = 0; i < count; i++) {
        write_line(out, i ? "" : "next time", advice[i]);
    }
}

/* Quoted where it must be. */
static void write_row(FILE *out, const struct review *review, const struct review_frame *f)
{
    const struct night_frame *frame = f->frame;
    char time[24] = "";
    if (isfinite(f->time_s)) {
        review_write_time(time, sizeof time, review, f->time_s);
    }
    csv_write_text(out, frame->name);
    fprintf(out, ",%s,%s,", judge_word(f->judgement.verdict), judge_cause_key(f->judgement.cause));
    csv_write_text(out, f->judgement.reason);
    fprintf(out, ",%s,%d", time, f->batch + 1);
    csv_add_number(out, frame->exposure_s > 0 ? frame->exposure_s : (double)NAN, 4);
    csv_add_number(out, frame->iso > 0 ? frame->iso : (double)NAN, 0);
    csv_add_number(out, frame->solved ? frame->ra_deg : (double)NAN, 5);
    csv_add_number(out, frame->solved ? frame->dec_deg : (double)NAN, 5);
    csv_add_number(out, f->x, 1);
    csv_add_number(out, f->y, 1);
    csv_add_number(out, frame->read ? frame->detected : (double)NAN, 0);
    csv_add_number(out, frame->health.fwhm_px, 2);
    csv_add_number(out, frame->health.elongation, 2);
    csv_add_number(out, frame->health.trail_px, 2);
    csv_add_number(out, frame->health.sky_level, 2);
    csv_add_number(out, frame->health.limit_mag, 2);
    fprintf(out, ",%d\r\n", f->crossings);
}

int review_report_csv(const char *name, const struct review *review, struct error *err)
{
    struct file_out out = {0};
    int code = file_out_open(&out, name, err);
    if (code) {
        return code;
    }
    fputs("frame,verdict,cause,reason,time,batch,exposure_s,iso,ra_deg,dec_deg,target_x,target_y,"
          "stars,fwhm_px,elongation,trail_px,sky_level,limit_mag,crossings\r\n",
          out.stream);
    for (int i = 0; i < review->frames; i++) {
        write_row(out.stream, review, &review->frame[i]);
    }
    return file_out_commit(&out, err);
}

int review_report_list(const char *name, int *left_out, const struct review *review,
                       bool with_doubtful, struct error *err)
{
    struct file_out out = {0};
    int code = file_out_open(&out, name, err);
    *left_out = 0;
    for (int i = 0; !code && i < review->frames; i++) {
        const struct review_frame *f = &review->frame[i];
        enum judge_verdict verdict = f->judgement.verdict;
        if (verdict == JUDGE_KEEP || (with_doubtful && verdict == JUDGE_DOUBTFUL)) {
            bool odd = strchr(f->frame->name, '\n') != NULL;
            *left_out += odd;
            if (!odd) {
                fprintf(out.stream, "%s\n", f->frame->name);
            }
        }
    }
    return code ? code : file_out_commit(&out, err);
}
