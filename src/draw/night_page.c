#include "draw/night_page.h"

#include "base/file.h"
#include "draw/html.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Three palettes: by day, by night, and red for dark-adapted eyes; the page takes the
 * first two from the system and all by a switch without a script. */
static const char opening[] =
    "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
    "content=\"width=device-width,initial-scale=1\"><meta http-equiv=\"Content-Security-Policy\" "
    "content=\"default-src 'none';";
/* What an engine needs besides; nothing may be asked of any network all the same. */
static const char engine_policy[] =
    "script-src 'unsafe-inline' 'wasm-unsafe-eval' blob:;worker-src blob:;";
static const char head[] =
    "style-src 'unsafe-inline';img-src data:\"><title>A night in review</title><style>"
    "#p{--bg:#f6f4ef;--ink:#22252b;--soft:#6d7078;--line:#d9d5cb;--card:#fffdf8;--keep:#5b7f95;"
    "--doubt:#c98a1b;--drop:#b5443c;--apart:#b9b4a8;--glow:#3d6b86}"
    "@media(prefers-color-scheme:dark){#p{--bg:#12151b;--ink:#e4e2dc;--soft:#8f949e;--line:#2a2f39;"
    "--card:#191d25;--keep:#7fa6bd;--doubt:#e0aa4a;--drop:#e0776b;--apart:#4b515c;--glow:#8fbcd6}}"
    "#t1:checked~#p{--bg:#f6f4ef;--ink:#22252b;--soft:#6d7078;--line:#d9d5cb;--card:#fffdf8;"
    "--keep:#5b7f95;--doubt:#c98a1b;--drop:#b5443c;--apart:#b9b4a8;--glow:#3d6b86}"
    "#t2:checked~#p{--bg:#12151b;--ink:#e4e2dc;--soft:#8f949e;--line:#2a2f39;--card:#191d25;"
    "--keep:#7fa6bd;--doubt:#e0aa4a;--drop:#e0776b;--apart:#4b515c;--glow:#8fbcd6}"
    "#t3:checked~#p{--bg:#000;--ink:#d42a1a;--soft:#8e1c12;--line:#3a0a06;--card:#0a0000;"
    "--keep:#7a150c;--doubt:#b8210f;--drop:#ff4a33;--apart:#3a0a06;--glow:#d42a1a}"
    "#t3:checked~#p .pic{display:block;background:#d42a1a}#t3:checked~#p img{filter:grayscale(1);"
    "mix-blend-mode:multiply}"
    "body{margin:0}input{position:absolute;opacity:0}"
    "#p{background:var(--bg);color:var(--ink);font:19px/1.55 Georgia,'DejaVu "
    "Serif',serif;min-height:"
    "100vh;padding:2rem 1.2rem 5rem;box-sizing:border-box}"
    "main{max-width:60rem;margin:auto}h1{font-size:clamp(1.9rem,6vw,3.4rem);line-height:1.12;"
    "font-weight:400;margin:.3em 0 "
    ".5em;letter-spacing:-.01em;overflow-wrap:anywhere;text-wrap:balance}"
    "h2{font-size:1.45rem;font-weight:400;margin:3.2rem 0 .8rem;color:var(--glow)}"
    "p{margin:.4em 0}.soft,small,figcaption "
    "small{color:var(--soft)}nav{float:right;font-size:.85rem}"
    "nav label{cursor:pointer;padding:.2em .5em;color:var(--soft)}"
    "svg{display:block;width:100%;height:auto}figure{margin:0 0 "
    "1.6rem}figcaption{margin-bottom:.2rem}"
    ".row{display:grid;grid-template-columns:repeat(auto-fit,minmax(15rem,1fr));gap:1.2rem}"
    ".row>div,.row>figure{background:var(--card);border:1px solid var(--line);border-radius:.6rem;"
    "padding:1rem "
    "1.1rem;margin:0;overflow-wrap:anywhere}.big{font-size:2rem;line-height:1.2;display:block}"
    "ol{padding-left:1.3em}li{margin:.5em 0}table{border-collapse:collapse;width:100%}"
    "td{border-top:1px solid var(--line);padding:.45em .6em .45em 0;vertical-align:top;"
    "overflow-wrap:anywhere}td:first-child{white-space:nowrap;color:var(--soft)}td.n{width:30%}"
    ".sk{stroke:var(--keep)}.sd{stroke:var(--doubt)}.sx{stroke:var(--drop)}.sa{stroke:var(--apart)}"
    ".fk{fill:var(--keep)}.fd{fill:var(--doubt)}.fx{fill:var(--drop)}.fa{fill:var(--apart)}"
    ".tick,.grid{stroke:var(--line);fill:none}.lab{fill:var(--soft);font-size:16px}"
    ".move{stroke:var(--glow);stroke-dasharray:5 5;fill:none}.knock{stroke:var(--drop);"
    "stroke-dasharray:2 4;fill:none}.frame{fill:none;stroke:var(--soft)}.jump{stroke:var(--line);"
    "fill:none;stroke-dasharray:6 5}.sky{fill:var(--keep)}.thin{fill:none;stroke:var(--soft);"
    "stroke-width:.25}.crop{fill:none;stroke:var(--ink);stroke-width:.6}"
    ".rim{fill:none;stroke:var(--ink);stroke-width:.3;stroke-dasharray:1 .6}.band{fill:var(--glow);"
    "opacity:.14}"
    "img{width:100%;height:auto;border-radius:.35rem;display:block}"
    ".key b{font-weight:400;padding-right:1.2em;display:inline-block}.key "
    "b:before{content:'';display:inline-block;width:.7em;"
    "height:.7em;border-radius:50%;margin-right:.4em;background:var(--c)}"
    ".nine{display:grid;grid-template-columns:repeat(3,1fr);gap:3px;text-align:center}"
    ".nine span{padding:1.1em 0;border-radius:.3rem;background:color-mix(in srgb,var(--keep) "
    "var(--s),"
    "var(--card))}"
    "@media(max-width:40rem){#p{font-size:18px}.lab{font-size:30px}td,td.n{display:block;"
    "width:auto;padding:.2em 0}td+td{border:0}}"
    "@media "
    "print{#p{--bg:#fff;--card:#fff;padding:0;font-size:11pt}nav{display:none}h2{break-after:avoid}"
    "figure,.row>div{break-inside:avoid}}"
    "</style></head><body><input type=\"radio\" name=\"t\" id=\"t1\"><input type=\"radio\" "
    "name=\"t\" "
    "id=\"t2\"><input type=\"radio\" name=\"t\" id=\"t3\"><div id=\"p\"><main><nav><label "
    "for=\"t1\">light</label><label for=\"t2\">dark</label><label for=\"t3\">red</label></nav>";

/* A number and its unit stay on one line: blanks between a digit and a unit of time do not break.
 */
static void keep_together(char *out, size_t size, const char *text)
{
    size_t used = 0;
    for (const char *s = text; *s && used + 3 < size; s++) {
        bool unit =
            *s == ' ' && s > text && s[-1] >= '0' && s[-1] <= '9' && s[1] && strchr("hms", s[1]);
        memcpy(out + used, unit ? "\u00a0" : s, unit ? 2 : 1);
        used += unit ? 2 : 1;
    }
    out[used] = '\0';
}

/* Before what is told in its times. */
static void write_clock_doubt(FILE *out, const struct review *review)
{
    char text[300];
    clock_doubt_write(text, sizeof text, &review->clock_doubt);
    if (text[0]) {
        fprintf(out, "<p>");
        html_write(out, text);
        fprintf(out, "</p>");
    }
}

static void write_heading(FILE *out, const struct review *review)
{
    char answer[200], unbroken[400], from[24], to[24], date[40], length[40];
    review_write_answer(answer, sizeof answer, review);
    if (review->clock) {
        time_write(date, sizeof date, review->start, 0);
        review_write_time(from, sizeof from, review, 0);
        review_write_time(to, sizeof to, review, review->length_s);
        review_write_duration(length, sizeof length, review->length_s);
        fprintf(out, "<p class=\"soft\">%.10s, %.5s to %.5s%s: %s</p>", date, from, to,
                review->clock == NIGHT_CLOCK_UTC ? " UTC" : "", length);
    }
    fprintf(out, "<h1>");
    keep_together(unbroken, sizeof unbroken, answer);
    html_write(out, unbroken);
    fprintf(out, "</h1>");
    write_clock_doubt(out, review);
    night_plot_ribbon(out, review);
    fprintf(out,
            "<p class=\"key\"><b style=\"--c:var(--keep)\">%d kept</b><b "
            "style=\"--c:var(--doubt)\">%d doubtful</b><b style=\"--c:var(--drop)\">%d dropped</b>",
            review->count[JUDGE_KEEP], review->count[JUDGE_DOUBTFUL], review->count[JUDGE_DROP]);
    if (review->count[JUDGE_APART]) {
        fprintf(out, "<b style=\"--c:var(--apart)\">%d not lights</b>", review->count[JUDGE_APART]);
    }
    fprintf(out, "</p>");
}

static void write_advice(FILE *out, const struct review *review)
{
    char advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE];
    int count = review_advise(advice, review);
    if (!count) {
        return;
    }
    fprintf(out, "<h2>Next time</h2><ol>");
    for (int i = 0; i < count; i++) {
        fprintf(out, "<li>");
        html_write(out, advice[i]);
        fprintf(out, "</li>");
    }
    fprintf(out, "</ol>");
}

static void write_events(FILE *out, const struct review *review)
{
    char crossed[900], copies[900];
    review_write_crossed(crossed, sizeof crossed, review);
    review_write_copies(copies, sizeof copies, review);
    if (!review->events && !crossed[0] && !copies[0]) {
        return;
    }
    fprintf(out, "<h2>What happened</h2><table>");
    for (int i = 0; i < review->events; i++) {
        const struct review_event *event = &review->event[i];
        char from[24], to[24], words[160];
        review_write_time(from, sizeof from, review, review->frame[event->first].time_s);
        review_write_time(to, sizeof to, review, review->frame[event->last].time_s);
        review_write_event(words, sizeof words, event);
        fprintf(out, "<tr><td>%s%s%s</td><td>", from, event->last > event->first ? " – " : "",
                event->last > event->first ? to : "");
        html_write(out, words);
        fprintf(out, "</td></tr>");
    }
    if (copies[0]) {
        fprintf(out, "<tr><td>copies</td><td>");
        html_write(out, copies);
        fprintf(out, "</td></tr>");
    }
    if (crossed[0]) {
        fprintf(out, "<tr><td>crossed</td><td>");
        html_write(out, crossed);
        fprintf(out, "; stacking with rejection removes them</td></tr>");
    }
    fprintf(out, "</table>");
}

static void write_nine(FILE *out, const struct review *review)
{
    if (!(review->kept_s > 0)) {
        return;
    }
    fprintf(out, "<div><p>Kept time by position of the %s</p><div class=\"nine\">",
            review->has_target ? "target" : "middle of the field");
    for (int row = 0; row < REVIEW_CELLS; row++) {
        for (int column = 0; column < REVIEW_CELLS; column++) {
            double share = 100 * review->target_s[row][column] / review->kept_s;
            fprintf(out, "<span style=\"--s:%.0f%%\">%.0f&thinsp;%%</span>", 0.8 * share, share);
        }
    }
    fprintf(out, "</div></div>");
}

static void write_geometry(FILE *out, const struct review *review)
{
    const struct review_cover *cover = &review->cover;
    char crop[120];
    if (review->reference < 0) {
        return;
    }
    fprintf(out,
            "<h2>Framing</h2><div class=\"row\"><figure><figcaption>%s in the frame, batch "
            "by batch</figcaption>",
            review->has_target ? "The target" : "The middle of the field");
    night_plot_path(out, review);
    fprintf(out, "</figure><figure><figcaption>What the kept frames share</figcaption>");
    night_plot_cover(out, review);
    if (cover->crop_width > 0) {
        fprintf(out, "<p><small>crop %.0f × %.0f px at x %.0f, y %.0f of ", cover->crop_width,
                cover->crop_height, cover->crop_left, cover->crop_top);
    } else {
        fprintf(out, "<p><small>no area is in all of them; align to ");
    }
    html_write(out, review->frame[review->reference].frame->name);
    if (review_write_crop(crop, sizeof crop, review)) {
        fprintf(out, "; ");
        html_write(out, crop);
    }
    fprintf(out, "</small></p></figure>");
    write_nine(out, review);
    fprintf(out, "</div>");
}

static double width_px(const struct review_frame *f)
{
    return f->frame->solved ? f->frame->health.fwhm_px : (double)NAN;
}

static double elongation(const struct review_frame *f)
{
    return f->frame->solved ? f->frame->health.elongation : (double)NAN;
}

static bool is_light(const struct review_frame *f)
{
    return f->frame->read && f->judgement.verdict != JUDGE_APART;
}

static double sky(const struct review_frame *f)
{
    return is_light(f) ? judge_sky(f->frame) : (double)NAN;
}

static double stars(const struct review_frame *f)
{
    return is_light(f) ? f->frame->detected : (double)NAN;
}

static double limit(const struct review_frame *f)
{
    return f->frame->solved ? f->frame->health.limit_mag : (double)NAN;
}

static void write_plots(FILE *out, const struct review *review)
{
    static const struct night_plot plots[] = {
        {"Width of stars", "FWHM in px, across the trail", width_px, 1},
        {"Length of stars", "times their width", elongation, 2},
        {"Stars found", "", stars, 0},
        {"Faintest stars", "magnitude at S/N 5", limit, 1},
        {"Sky", "level, in the file's units", sky, 1},
    };
    if (!review->usual.frames) {
        return;
    }
    fprintf(out, "<h2>Over the night</h2>");
    for (size_t i = 0; i < sizeof plots / sizeof plots[0]; i++) {
        night_plot_draw(out, review, &plots[i]);
    }
}

static int write_thumbnail(FILE *out, const struct review *review, int i, const char *words,
                           const struct frame_reader *reader, struct error *err)
{
    const struct review_frame *f = &review->frame[i];
    char time[24];
    review_write_time(time, sizeof time, review, f->time_s);
    fprintf(out, "<figure>");
    int code = night_thumbnail(out, f->frame->name, reader, err);
    fprintf(out, "<p>%s</p><p><small>", time);
    html_write(out, f->frame->name);
    fprintf(out, "<br>");
    html_write(out, words);
    fprintf(out, "</small></p></figure>");
    return code;
}

/* The best, then the first of each cause. */
static int write_thumbnails(FILE *out, const struct review *review,
                            const struct frame_reader *reader, struct error *err)
{
    bool shown[JUDGE_CAUSES] = {false};
    int code = 0;
    fprintf(out, "<h2>The best, and what was dropped</h2><div class=\"row\">");
    if (review->reference >= 0) {
        code = write_thumbnail(out, review, review->reference, "align to this one: it is the best",
                               reader, err);
    }
    for (int i = 0; !code && i < review->frames; i++) {
        const struct judgement *j = &review->frame[i].judgement;
        if (j->verdict == JUDGE_DROP && !shown[j->cause]) {
            shown[j->cause] = true;
            code = write_thumbnail(out, review, i, j->reason, reader, err);
        }
    }
    fprintf(out, "</div>");
    return code;
}

static void write_needs(FILE *out, const struct review *review)
{
    if (!review->needs) {
        return;
    }
    fprintf(out, "<h2>Calibration frames</h2><div class=\"row\">");
    for (int i = 0; i < review->needs; i++) {
        const struct review_need *need = &review->need[i];
        fprintf(out, "<div><span class=\"big\">%d of %d</span>darks of %.4g s", need->darks,
                REVIEW_DARKS, need->exposure_s);
        if (need->iso > 0) {
            fprintf(out, ", ISO %.0f", need->iso);
        }
        fprintf(out, ", for %d lights</div>", need->lights);
    }
    fprintf(out,
            "<div><span class=\"big\">%d of %d</span>bias</div><div><span class=\"big\">%d of "
            "%d</span>flats</div></div>",
            review->kind[KIND_BIAS], REVIEW_BIAS, review->kind[KIND_FLAT], REVIEW_FLATS);
}

static void write_table(FILE *out, const struct review *review)
{
    enum { MOST_ROWS = 300 };
    int rows = 0;
    for (int i = 0; i < review->frames && rows < MOST_ROWS; i++) {
        const struct review_frame *f = &review->frame[i];
        char time[24];
        if (f->judgement.verdict != JUDGE_DOUBTFUL && f->judgement.verdict != JUDGE_DROP) {
            continue;
        }
        review_write_time(time, sizeof time, review, f->time_s);
        fprintf(out, "%s<tr><td>%s</td><td class=\"n\">",
                rows++ ? "" : "<h2>Doubtful and dropped frames</h2><table>", time);
        html_write(out, f->frame->name);
        fprintf(out, "</td><td>%s: ", judge_word(f->judgement.verdict));
        html_write(out, f->judgement.reason);
        fprintf(out, "</td></tr>");
    }
    fprintf(out, rows ? "</table>" : "");
    if (rows == MOST_ROWS) {
        fprintf(out, "<p class=\"soft\">The first %d; the review's table (CSV) has them all.</p>",
                MOST_ROWS);
    }
}

int night_page_write(const struct file_target *target, const struct review *review,
                     const struct night_page_stack *stack, const struct frame_reader *reader,
                     const struct night_page_engine *engine, struct error *err)
{
    struct file_out file = {0};
    int code = file_out_open_to(&file, target, err);
    if (code) {
        return code;
    }
    FILE *out = file.stream;
    fputs(opening, out);
    fputs(engine ? engine_policy : "", out);
    fputs(head, out);
    write_heading(out, review);
    night_page_write_stack(out, stack);
    write_advice(out, review);
    write_events(out, review);
    write_geometry(out, review);
    write_plots(out, review);
    code = write_thumbnails(out, review, reader, err);
    write_needs(out, review);
    write_table(out, review);
    code = code ? code : night_page_write_engine(out, review, engine, err);
    fprintf(out, "</main></div></body></html>\n");
    if (code) {
        file_out_abandon(&file);
        return code;
    }
    return file_out_commit(&file, err);
}
