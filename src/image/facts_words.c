#include "image/facts_words.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void facts_write_time(char *out, size_t size, const struct frame_facts *facts)
{
    char time[40];
    time_stamp_write(time, sizeof time,
                     facts->start_utc.known ? &facts->start_utc : &facts->start_local);
    out[0] = '\0';
    if (time[0] && facts->start_source) {
        snprintf(out, size, "%s (%s)", time, facts->start_source);
    }
}

/* Makers write all manner of bytes into names. */
static void add_name(char *out, size_t size, const char *name)
{
    for (const char *p = name; *p; p++) {
        text_append(out, size, "%c", *p >= ' ' && *p <= '~' ? *p : '?');
    }
}

static void add_fact(char *out, size_t size, const struct fact *fact, const char *before,
                     const char *after)
{
    if (fact->origin != FACT_UNKNOWN) {
        size_t used = strlen(out);
        const char *gap = used == 0 || out[used - 1] == ' ' ? "" : ", ";
        text_append(out, size, "%s%s%.4g%s", gap, before, fact->value, after);
        if (fact->source) {
            text_append(out, size, " (%s)", fact->source);
        }
    }
}

void facts_write_camera(char *out, size_t size, const struct frame_facts *facts)
{
    out[0] = '\0';
    add_name(out, size, facts->camera);
    if (facts->lens[0]) {
        text_append(out, size, "%s", out[0] ? ", " : "");
        add_name(out, size, facts->lens);
    }
    if (out[0] && (facts->exposure_s.origin || facts->f_number.origin || facts->iso.origin)) {
        text_append(out, size, "; ");
    }
    add_fact(out, size, &facts->exposure_s, "", " s");
    add_fact(out, size, &facts->f_number, "f/", "");
    add_fact(out, size, &facts->iso, "ISO ", "");
}

void facts_write_place(char *out, size_t size, const struct frame_facts *facts)
{
    out[0] = '\0';
    if (facts->latitude_deg.origin == FACT_UNKNOWN || facts->longitude_deg.origin == FACT_UNKNOWN) {
        return;
    }
    double latitude = facts->latitude_deg.value, longitude = facts->longitude_deg.value;
    text_append(out, size, "%.4f° %c, %.4f° %c", fabs(latitude), latitude < 0 ? 'S' : 'N',
                fabs(longitude), longitude < 0 ? 'W' : 'E');
    if (facts->height_m.origin != FACT_UNKNOWN) {
        text_append(out, size, ", %.0f m", facts->height_m.value);
    }
    if (facts->latitude_deg.source) {
        text_append(out, size, " (%s)", facts->latitude_deg.source);
    }
}
