/* What the numbers mean is from memory, and held against exiftool by
 * tests/outside/check_formats.py. */
#include "image/maker_iso.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static bool begins(const char *text, const char *word)
{
    return strncasecmp(text, word, strlen(word)) == 0;
}

/* Pentax and Casio number the steps. */
static double from_code(double value)
{
    enum { FIRST_THIRD = 3, FIRST_HALF = 258 };
    static const unsigned short thirds[] = {50,    64,    80,    100,   125,   160,   200,  250,
                                            320,   400,   500,   640,   800,   1000,  1250, 1600,
                                            2000,  2500,  3200,  4000,  5000,  6400,  8000, 10000,
                                            12800, 16000, 20000, 25600, 32000, 40000, 51200};
    static const unsigned short halves[] = {50,   70,   100,   140,   200,   280,   400,
                                            560,  800,  1100,  1600,  2200,  3200,  4500,
                                            6400, 9000, 12800, 18000, 25600, 36000, 51200};
    const int all_thirds = sizeof thirds / sizeof *thirds;
    const int all_halves = sizeof halves / sizeof *halves;
    int code = value > 0 && value < 1000 ? (int)value : 0;
    if (code >= FIRST_THIRD && code < FIRST_THIRD + all_thirds) {
        return thirds[code - FIRST_THIRD];
    }
    if (code >= FIRST_HALF && code < FIRST_HALF + all_halves) {
        return halves[code - FIRST_HALF];
    }
    return value;
}

/* "ISO 640" or "640"; 0 for words. */
static double plain_number(const char *text)
{
    text += strncmp(text, "ISO ", 4) == 0 ? 4 : 0;
    char *end;
    double value = strtod(text, &end);
    return end > text && (*end == '\0' || *end == ' ') ? value : 0;
}

/* Titles are those that the library gives such entries of several makers. */
static double iso_of(const char *title, double value, const char *make)
{
    static const char *const plain[] = {"iso", "iso speed", "iso setting", "iso number"};
    bool coded = begins(make, "pentax") || begins(make, "asahi") || begins(make, "ricoh") ||
                 begins(make, "casio");
    if (strcasecmp(title, "iso value") == 0) {
        return value > 0 && value < 20 ? rint(100 * exp2(value - 5)) : value; /* APEX */
    }
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++) {
        if (strcasecmp(title, plain[i]) == 0) {
            return coded ? from_code(value) : value;
        }
    }
    return 0;
}

double maker_iso_find(ExifData *data, const char *make)
{
    ExifMnoteData *note = exif_data_get_mnote_data(data);
    unsigned count = note ? exif_mnote_data_count(note) : 0;
    double found = 0, base = 0, gain = 0;
    for (unsigned i = 0; i < count && found == 0; i++) {
        char text[64] = "";
        const char *title = exif_mnote_data_get_title(note, i);
        if (!title || !exif_mnote_data_get_value(note, i, text, sizeof text)) {
            continue;
        }
        double value = plain_number(text);
        found = iso_of(title, value, make);
        base = strcasecmp(title, "shot iso") == 0 ? value : base;
        gain = strcasecmp(title, "auto iso") == 0 ? value : gain;
    }
    return found > 0 ? found : rint(base * gain);
}
