#include "cli/complaint.h"

#include "base/utf8.h"
#include "cli/terminal.h"

const char *complaint_remedy(enum error_remedy remedy)
{
    static const char *const words[ERROR_REMEDIES] = {
        [REMEDY_NONE] = "",
        [REMEDY_LENS] = "; give --focal MM, or --lens NAME of a settings file",
        [REMEDY_PLACE] = "; give --place LAT,LON, or --place NAME of a settings file",
        [REMEDY_PLACE_AND_ZONE] = "; give --place and --zone",
        [REMEDY_CLOCK_ZONE] = "; give --zone",
        [REMEDY_ZONE] = "; end it with Z or +01:00, or give --zone",
        [REMEDY_OWN_FOCAL] = ("; give that with --focal, or name the sensor too: "
                              "--frame-of 400,36x24"),
        [REMEDY_LOG] = "; name another file with --log",
        [REMEDY_NEW_FITS] = "; take --fits for this one",
        [REMEDY_REPLACE] = "; expected another name, or --replace",
    };
    return words[remedy];
}

void complaint_write(FILE *out, const char *who, const struct error *err)
{
    struct terminal_text text;
    FILE *stream = terminal_begin(&text, out);
    fprintf(stream, "%s: ", who);
    utf8_write_shown(stream, err->text);
    fprintf(stream, "%s\n", complaint_remedy(err->remedy));
    terminal_end(&text);
}
