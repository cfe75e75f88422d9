#include "draw/html.h"
#include "draw/night_page.h"

#include <math.h>

/* Units of the drawing; it is scaled to the page. */
enum { WIDE = 1000, HIGH = 300, LEFT = 76, TOP = 20, BOTTOM = HIGH - 44, CURVE_POINTS = 60 };

/* From numbers to the drawing. */
struct axes {
    double lights, snr; /* at the right and at the top */
};

static double across(const struct axes *axes, double lights)
{
    return LEFT + lights / axes->lights * (WIDE - LEFT - 12);
}

static double above(const struct axes *axes, double snr)
{
    double y = BOTTOM - snr / axes->snr * (BOTTOM - TOP);
    return fmin(fmax(y, 0), HIGH);
}

static bool find_axes(struct axes *axes, const struct emergence *e)
{
    *axes = (struct axes){.lights = e->lights};
    int known = 0;
    for (int i = 0; i < e->steps; i++) {
        if (isfinite(e->step[i].snr)) {
            axes->snr = fmax(axes->snr, e->step[i].snr + e->step[i].snr_error);
            known++;
        }
    }
    if (e->has_promise) {
        axes->snr = fmax(axes->snr, fmin(emergence_promised(e), 4 * axes->snr));
    }
    axes->snr *= 1.1;
    return known > 1 && axes->snr > 0;
}

/* A step of 1, 2 or 5 that leaves at most so many. */
static double choose_step(double range, int most)
{
    double unit = pow(10, floor(log10(range / most)));
    double step = range / most / unit;
    return unit * (step <= 1 ? 1 : step <= 2 ? 2 : step <= 5 ? 5 : 10);
}

static void draw_grid(FILE *out, const struct axes *axes)
{
    double step = choose_step(axes->snr, 4);
    int decimals = (int)fmax(0, ceil(-log10(step) - 1e-9));
    for (double snr = 0; snr <= axes->snr; snr += step) {
        fprintf(out,
                "<path class=\"grid\" d=\"M%d %.1fH%d\"/><text class=\"lab\" text-anchor=\"end\" "
                "x=\"%d\" y=\"%.1f\">%.*f</text>",
                LEFT - 8, above(axes, snr), WIDE, LEFT - 14, above(axes, snr) + 6, decimals, snr);
    }
    step = fmax(1, choose_step(axes->lights, 6));
    for (double lights = step; lights <= axes->lights; lights += step) {
        fprintf(out, "<text class=\"lab\" text-anchor=\"middle\" x=\"%.1f\" y=\"%d\">%.0f</text>",
                across(axes, lights), HIGH - 14, lights);
    }
}

/* What grows with the root of the frames: so much after the first. */
static void draw_root(FILE *out, const struct axes *axes, double once, const char *kind)
{
    fprintf(out, "<path class=\"%s\" d=\"", kind);
    for (int i = 0; i <= CURVE_POINTS; i++) {
        double lights = axes->lights * i / CURVE_POINTS;
        fprintf(out, "%s%.1f %.1f", i ? "L" : "M", across(axes, lights),
                above(axes, once * sqrt(lights)));
    }
    fprintf(out, "\"/>");
}

/* The promise with what it may be off, as a band around a line. */
static void draw_promise(FILE *out, const struct axes *axes, const struct emergence *e)
{
    double off = pow(10, 0.4 * e->off_mag);
    if (!e->has_promise) {
        return;
    }
    fprintf(out, "<path class=\"band\" d=\"");
    for (int i = 0; i <= 2 * CURVE_POINTS + 1; i++) {
        bool upper = i <= CURVE_POINTS;
        double lights = axes->lights * (upper ? i : 2 * CURVE_POINTS + 1 - i) / CURVE_POINTS;
        double snr = e->once * sqrt(lights) * (upper ? off : 1 / off);
        fprintf(out, "%s%.1f %.1f", i ? "L" : "M", across(axes, lights), above(axes, snr));
    }
    fprintf(out, "Z\"/>");
    draw_root(out, axes, e->once, "move");
}

static void draw_plan(FILE *out, const struct axes *axes, const struct emergence *e)
{
    if (e->planned > 0) {
        draw_root(out, axes, e->planned, "jump");
    }
}

static void draw_measured(FILE *out, const struct axes *axes, const struct emergence *e)
{
    for (int i = 0; i < e->steps; i++) {
        const struct emergence_step *s = &e->step[i];
        double x = across(axes, s->lights);
        if (isfinite(s->snr)) {
            fprintf(out,
                    "<path class=\"sk\" d=\"M%.1f %.1fV%.1f\"/><circle class=\"fk\" r=\"4\" "
                    "cx=\"%.1f\" cy=\"%.1f\"/>",
                    x, above(axes, s->snr - s->snr_error), above(axes, s->snr + s->snr_error), x,
                    above(axes, s->snr));
        }
    }
}

static void write_plot(FILE *out, const struct emergence *e)
{
    struct axes axes;
    if (!find_axes(&axes, e)) {
        return;
    }
    fprintf(out,
            "<figure><figcaption>Signal to noise of the target <small>per pixel, by the number of "
            "frames; dots measured%s%s</small></figcaption><svg viewBox=\"0 0 %d %d\" role=\"img\" "
            "aria-label=\"signal to noise by frames\">",
            e->has_promise ? ", dashed promised by the first frame, with what that may be off" : "",
            e->planned > 0 ? ", faint dashes planned" : "", WIDE, HIGH);
    draw_grid(out, &axes);
    draw_promise(out, &axes, e);
    draw_plan(out, &axes, e);
    draw_measured(out, &axes, e);
    fprintf(out, "</svg></figure>");
}

/* A slider without a script: of a row of marks one is chosen, by finger, mouse or the arrow keys.
 */
static void write_slider(FILE *out, const struct night_page_stack *stack)
{
    int last = stack->shots - 1;
    fprintf(out, "<style>.shots>div{display:none}.track{display:flex;margin:.6rem 0}.track "
                 "label{flex:1 1 0;min-width:0;text-align:center;cursor:pointer;padding:.5em 0;"
                 "color:var(--soft);border-top:3px solid var(--line)}"
                 "@media(max-width:480px){.track label{font-size:.7rem}}");
    for (int i = 0; i <= last; i++) {
        fprintf(out,
                "#e%d:checked~.shots>div:nth-child(%d){display:block}#e%d:checked~.track "
                "label:nth-child(%d){color:var(--ink);border-color:var(--glow)}"
                "#e%d:focus-visible~.track label:nth-child(%d){outline:2px solid var(--glow)}",
                i, i + 1, i, i + 1, i, i + 1);
    }
    fprintf(out, "</style><figure>");
    for (int i = 0; i <= last; i++) {
        fprintf(out, "<input type=\"radio\" name=\"e\" id=\"e%d\"%s aria-label=\"%d frames\">", i,
                i == last ? " checked" : "", stack->shot[i].frames);
    }
    fprintf(out, "<div class=\"shots\">");
    for (int i = 0; i <= last; i++) {
        const struct night_page_shot *shot = &stack->shot[i];
        fprintf(out,
                "<div><span class=\"pic\"><img alt=\"the stack of %d frames\" "
                "src=\"data:image/jpeg;base64,",
                shot->frames);
        html_write_base64(out, (const unsigned char *)shot->jpeg.bytes, shot->jpeg.size);
        fprintf(out, "\"></span></div>");
    }
    fprintf(out, "</div><div class=\"track\">");
    for (int i = 0; i <= last; i++) {
        fprintf(out, "<label for=\"e%d\">%d</label>", i, stack->shot[i].frames);
    }
    fprintf(out,
            "</div><figcaption><small>frames in the stack: move along to see it emerge; "
            "%s</small></figcaption></figure>",
            emergence_caution);
}

static void write_words(FILE *out, const struct emergence *e)
{
    char text[EMERGENCE_TEXT];
    fprintf(out, "<p>");
    emergence_write(text, sizeof text, e);
    html_write(out, text);
    fprintf(out, "</p>");
    emergence_write_broken(text, sizeof text, e);
    if (text[0]) {
        fprintf(out, "<p>");
        html_write(out, text);
        fprintf(out, "</p>");
    }
    emergence_write_frames(text, sizeof text, e);
    fprintf(out, "<p><small>");
    html_write(out, text);
    if (e->known && !e->has_promise && e->no_promise[0]) {
        fprintf(out, "; nothing was promised: ");
        html_write(out, e->no_promise);
    }
    fprintf(out, "</small></p>");
}

void night_page_write_stack(FILE *out, const struct night_page_stack *stack)
{
    if (!stack || !stack->emergence->frames) {
        return;
    }
    fprintf(out, "<h2>What emerged</h2>");
    if (stack->shots) {
        write_slider(out, stack);
    }
    write_words(out, stack->emergence);
    write_plot(out, stack->emergence);
}
