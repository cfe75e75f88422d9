#include "image/fits_facts.h"

#include "base/text.h"
#include "image/moment.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Returns whether the number is there. A damaged card counts as missing. */
static bool read_number(fitsfile *file, const char *key, double *value)
{
    int status = 0;
    return fits_read_key(file, TDOUBLE, key, value, NULL, &status) == 0;
}

static bool read_string(fitsfile *file, const char *key, char value[FLEN_VALUE])
{
    int status = 0;
    return fits_read_key(file, TSTRING, key, value, NULL, &status) == 0;
}

/* A value outside the bounds is a mistake or a placeholder, and no fact. */
static void note(struct fact *fact, double value, double low, double high, const char *source)
{
    if (value >= low && value <= high) {
        *fact = (struct fact){value, FACT_FITS, source};
    }
}

/* Which numbers go where; the later of two rows with the same fact wins. */
static void read_numbers(struct frame_facts *facts, fitsfile *file)
{
    const struct {
        struct fact *fact;
        const char *key;
        double low, high;
        const char *source;
    } rows[] = {
        {&facts->focal_mm, "FOCALLEN", 0.5, 20000, "FITS FOCALLEN"},
        {&facts->exposure_s, "EXPOSURE", 1e-6, 86400, "FITS EXPOSURE"},
        {&facts->exposure_s, "EXPTIME", 1e-6, 86400, "FITS EXPTIME"},
        {&facts->iso, "ISOSPEED", 1, 1e8, "FITS ISOSPEED"},
        {&facts->f_number, "FOCRATIO", 0.3, 200, "FITS FOCRATIO"},
        {&facts->height_m, "SITEELEV", -500, 9000, "FITS SITEELEV"},
        {&facts->height_m, "OBSGEO-H", -500, 9000, "FITS OBSGEO-H"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double value;
        if (read_number(file, rows[i].key, &value)) {
            note(rows[i].fact, value, rows[i].low, rows[i].high, rows[i].source);
        }
    }
}

/* XPIXSZ counts binned pixels as one, PIXSIZE1 the sensor's own. */
static void read_pitch(struct frame_facts *facts, fitsfile *file)
{
    double across, down, binned = 1;
    if (read_number(file, "PIXSIZE1", &across)) {
        read_number(file, "XBINNING", &binned);
        note(&facts->pixel_um, across * binned, 0.3, 200, "FITS PIXSIZE1 and XBINNING");
    }
    if (read_number(file, "XPIXSZ", &across)) {
        note(&facts->pixel_um, across, 0.3, 200, "FITS XPIXSZ");
        if (read_number(file, "YPIXSZ", &down) && down > 0 && fabs(across / down - 1) > 0.02) {
            facts->pixel_um = (struct fact){0}; /* not square: no single pitch */
        }
    }
}

/* "05 35 17" with colons between, in place: such a right ascension is hours, a number degrees. */
static const char *colons(char text[FLEN_VALUE])
{
    char *first = text + strspn(text, " "), *last = first + strlen(first);
    while (last > first && last[-1] == ' ') {
        *--last = '\0';
    }
    for (char *p = first; *p; p++) {
        *p = *p == ' ' ? ':' : *p;
    }
    return first;
}

/* Where the mount pointed. Both zero is what programs write that don't know. */
static void read_position(struct frame_facts *facts, fitsfile *file)
{
    static const char *const keys[][3] = {{"RA", "DEC", "FITS RA and DEC"},
                                          {"OBJCTRA", "OBJCTDEC", "FITS OBJCTRA and OBJCTDEC"}};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        char ra_text[FLEN_VALUE], dec_text[FLEN_VALUE];
        double ra, dec;
        if (read_string(file, keys[i][0], ra_text) && read_string(file, keys[i][1], dec_text) &&
            text_read_ra(&ra, colons(ra_text)) && text_read_dec(&dec, colons(dec_text)) &&
            (ra != 0 || dec != 0)) {
            note(&facts->ra_deg, ra, 0, 360, keys[i][2]);
            note(&facts->dec_deg, dec, -90, 90, keys[i][2]);
        }
    }
}

/* An angle as a number or as degrees, minutes, seconds. */
static bool read_angle(double *degrees, const char *text)
{
    char copy[FLEN_VALUE];
    double whole = 0, minutes = 0, seconds = 0;
    if (text_read_double(degrees, text)) {
        return true;
    }
    snprintf(copy, sizeof copy, "%s", text);
    for (char *p = copy; *p; p++) {
        *p = *p == ':' ? ' ' : *p;
    }
    char sign = copy[strspn(copy, " ")];
    if (sscanf(copy, "%lf %lf %lf", &whole, &minutes, &seconds) < 2 || !(minutes >= 0) ||
        !(minutes < 60) || !(seconds >= 0) || !(seconds < 60)) {
        return false;
    }
    double size = fabs(whole) + minutes / 60 + seconds / 3600;
    *degrees = sign == '-' ? -size : size;
    return true;
}

static void read_place(struct frame_facts *facts, fitsfile *file)
{
    static const char *const keys[][3] = {
        {"SITELAT", "SITELONG", "FITS SITELAT and SITELONG"},
        {"LAT-OBS", "LONG-OBS", "FITS LAT-OBS and LONG-OBS"},
        {"OBSGEO-B", "OBSGEO-L", "FITS OBSGEO-B and OBSGEO-L"},
    };
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        char text[2][FLEN_VALUE];
        double latitude, longitude;
        if (read_string(file, keys[i][0], text[0]) && read_string(file, keys[i][1], text[1]) &&
            read_angle(&latitude, text[0]) && read_angle(&longitude, text[1]) &&
            (latitude != 0 || longitude != 0)) {
            note(&facts->latitude_deg, latitude, -90, 90, keys[i][2]);
            note(&facts->longitude_deg, longitude > 180 ? longitude - 360 : longitude, -180, 180,
                 keys[i][2]);
        }
    }
}

/* The date of a card; a date alone may have its time in another one. */
static bool read_moment(struct time_stamp *moment, fitsfile *file, const char *key)
{
    char date[FLEN_VALUE], time[FLEN_VALUE], text[2 * FLEN_VALUE];
    if (!read_string(file, key, date)) {
        return false;
    }
    snprintf(text, sizeof text, "%s", date);
    if (strlen(date) == 10 && strcmp(key, "DATE-OBS") == 0 && read_string(file, "TIME-OBS", time)) {
        snprintf(text, sizeof text, "%sT%s", date, time);
    }
    return moment_read(moment, text, NULL);
}

/* FITS 4.0, section 4.4.2 and 9.5: times are UTC unless TIMESYS says otherwise. The exposure must
 * have been read before, since the middle and the end of it tell its start, too. */
static void read_start(struct frame_facts *facts, fitsfile *file)
{
    static const struct {
        const char *key;
        double of_exposure; /* how much of it has passed by then */
        const char *source;
    } cards[] = {{"DATE-BEG", 0, "FITS DATE-BEG"},
                 {"DATE-OBS", 0, "FITS DATE-OBS"},
                 {"DATE-AVG", 0.5, "FITS DATE-AVG less half the exposure"},
                 {"DATE-END", 1, "FITS DATE-END less the exposure"}};
    char system[FLEN_VALUE];
    if (read_string(file, "TIMESYS", system) && strcmp(system, "UTC") != 0) {
        return;
    }
    for (size_t i = 0; i < sizeof cards / sizeof *cards; i++) {
        struct time_stamp start;
        bool possible = cards[i].of_exposure == 0 || facts->exposure_s.origin != FACT_UNKNOWN;
        if (possible && read_moment(&start, file, cards[i].key)) {
            if (cards[i].of_exposure > 0) {
                start.utc =
                    time_add_clock(start.utc, -cards[i].of_exposure * facts->exposure_s.value);
                start.decimals = MOMENT_DECIMALS;
            }
            start.zoned = true;
            facts->start_utc = start;
            facts->start_source = cards[i].source;
            return;
        }
    }
}

static void read_names(struct frame_facts *facts, fitsfile *file)
{
    char text[FLEN_VALUE];
    if (read_string(file, "INSTRUME", text)) {
        snprintf(facts->camera, sizeof facts->camera, "%.63s", text);
    }
}

void fits_facts_read(struct frame_facts *facts, fitsfile *file)
{
    read_numbers(facts, file);
    read_pitch(facts, file);
    read_position(facts, file);
    read_place(facts, file);
    read_start(facts, file);
    read_names(facts, file);
}
