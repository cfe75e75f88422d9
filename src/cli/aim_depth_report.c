#include "cli/aim_depth_report.h"

#include "base/text.h"
#include "plan/signal_words.h"

#include <math.h>

static void write_line(FILE *out, const char *text, bool first)
{
    if (text[0]) {
        fprintf(out, "  %-8s %s\n", first ? "depth" : "", text);
    }
}

static void write_now(char *text, size_t size, const struct aim_answer *answer, int frames)
{
    const struct signal *signal = &answer->depth.signal;
    double all = signal_stack(signal, fmax(frames, 1));
    char once[16], stack[16], patch[16], in[48] = "";
    signal_write_ratio(once, sizeof once, signal->once);
    signal_write_ratio(stack, sizeof stack, all);
    signal_write_ratio(patch, sizeof patch, 10 * all);
    if (frames > 1) {
        snprintf(in, sizeof in, ", %s in a stack of %d", stack, frames);
    }
    snprintf(text, size, "S/N %s per pixel in one such frame%s, %s in patches of 10 x 10 px", once,
             in, patch);
}

static void write_basis(FILE *out, const struct aim_answer *answer)
{
    const struct signal_frame *frame = &answer->depth.frame;
    char text[200];
    signal_write_noise(text, sizeof text, &answer->depth);
    fprintf(out, "           %s (measured: a sky of %.1f mag/arcsec²; %s: %.2g e- read noise)\n",
            text, frame->sky_mag, answer->read_noise_told ? "from the settings file" : "assumed",
            frame->read_noise);
}

static void write_stars(FILE *out, const struct aim_answer *answer, int frames)
{
    char text[120];
    double gain_mag = 1.25 * log10(fmax(frames, 1)); /* noise falls as the root of their number */
    if (!isfinite(answer->limit_mag)) {
        return;
    }
    snprintf(text, sizeof text, "stars show to magnitude %.1f", answer->limit_mag);
    if (frames > 1) {
        text_append(text, sizeof text, ", in %d frames to about %.1f", frames,
                    answer->limit_mag + gain_mag);
    }
    write_line(out, text, false);
}

void aim_depth_report(FILE *out, const struct aim_answer *answer, const struct aim_wish *wish,
                      bool brief)
{
    char text[240];
    if (!answer->has_depth) {
        snprintf(text, sizeof text, "%s%s", answer->depth_unknown,
                 answer->black_doubted ? ": give --black" : "");
        write_line(out, text, true);
    } else {
        write_now(text, sizeof text, answer, wish->stack);
        write_line(out, text, true);
    }
    if (answer->has_depth && !brief) {
        signal_write_wanted(text, sizeof text, &answer->depth);
        write_line(out, text, false);
        write_basis(out, answer);
        signal_write_instead(text, sizeof text, &answer->depth);
        write_line(out, text, false);
    }
    if (!brief) {
        write_stars(out, answer, wish->stack);
    }
}

void aim_depth_write_json(struct json *json, const struct aim_answer *answer,
                          const struct aim_wish *wish)
{
    schema_open(json, "depth");
    schema_put_bool(json, "known", answer->has_depth);
    if (!answer->has_depth) {
        schema_put_text(json, "why", answer->depth_unknown);
    } else {
        signal_put(json, &answer->depth);
        schema_put_bool(json, "read_noise_told", answer->read_noise_told);
        schema_put_number(json, "electrons_a_value", answer->electrons);
    }
    if (wish->stack > 0) {
        schema_put_integer(json, "stack", wish->stack);
    }
    if (wish->stack > 0 && answer->has_depth) {
        schema_put_number(json, "snr_stack", signal_stack(&answer->depth.signal, wish->stack));
    }
    schema_put_number(json, "limit_mag", answer->limit_mag);
    schema_close(json);
}
