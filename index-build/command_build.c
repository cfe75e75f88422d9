#include "base/file.h"
#include "base/outputs.h"
#include "base/path.h"
#include "base/stopwatch.h"
#include "base/text.h"
#include "base/utf8.h"
#include "build.h"
#include "index_commands.h"
#include "match/index.h"
#include "night/file_kind.h"
#include "order_stars.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* A part of the sky. */
struct region {
    bool given;
    double ra_deg, dec_deg, within_deg;
};

static bool read_near(void *member, const char *text)
{
    struct region *region = member;
    region->given = text_read_radec(&region->ra_deg, &region->dec_deg, text);
    return region->given;
}

struct build_settings {
    const char *output, *name, *source;
    struct catalogue_columns columns;
    double faintest, brightest; /* NaN: no limit */
    double density;
    struct region region;
    int neighbours, quads;
    int threads;
    bool accept_bad_rows, replace;
};

static const struct build_settings defaults = {
    .faintest = NAN, .brightest = NAN, .region.within_deg = 5};

/* A density that no catalogue has. */
static const double all_stars = 1e9;

#define AT(member) offsetof(struct build_settings, member)

static const struct option_row options[] = {
    {.name = "output",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write the index here; the usual ending is .alidx",
     .required = true,
     .store = AT(output)},
    OUTPUTS_REPLACE_OPTION(build_settings, replace),
    {.name = "name",
     .kind = OPTION_TEXT,
     .argument = "TEXT",
     .help = "what to call the catalogue (the file's name)",
     .store = AT(name)},
    {.name = "source",
     .kind = OPTION_TEXT,
     .argument = "TEXT",
     .help = "where it comes from and its licence, in short",
     .store = AT(source)},
    {.name = "threads",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "threads to work with (one per processor)",
     .low = 1,
     .high = 256,
     .store = AT(threads)},

    {.kind = OPTION_HEADING, .help = "Which stars"},
    {.name = "faintest",
     .kind = OPTION_NUMBER,
     .argument = "MAG",
     .help = "leave out fainter stars",
     .low = -30,
     .high = 30,
     .store = AT(faintest)},
    {.name = "brightest",
     .kind = OPTION_NUMBER,
     .argument = "MAG",
     .help = "leave out brighter stars",
     .low = -30,
     .high = 30,
     .store = AT(brightest)},
    {.name = "near",
     .kind = OPTION_READ,
     .argument = "RA,DEC",
     .help = "keep the stars around this place alone: a deep index of a region",
     .read = read_near,
     .expected = "a direction like 83.8,-5.4 or 5h35m,-5d24m",
     .store = AT(region)},
    {.name = "within",
     .kind = OPTION_NUMBER,
     .argument = "DEG",
     .help = "how far around it (5)",
     .low = 0.1,
     .high = 180,
     .store = AT(region.within_deg)},
    {.name = "density",
     .kind = OPTION_NUMBER,
     .argument = "N",
     .help = "keep the N brightest stars of each square degree (30; all with --near)",
     .low = 1,
     .high = 100000,
     .store = AT(density)},
    {.name = "neighbours",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "brighter neighbours that make patterns with each star: more find frames that show "
             "fewer stars, and make a larger file (7)",
     .low = 3,
     .high = INDEX_MAX_NEIGHBOURS,
     .store = AT(neighbours)},
    {.name = "quads",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "patterns kept of each star, the narrowest first (24)",
     .low = 1,
     .high = 455,
     .store = AT(quads)},
    {.name = "accept-bad-rows",
     .help = "go on even if more than 1 % of the rows cannot be used",
     .store = AT(accept_bad_rows)},

    {.kind = OPTION_HEADING, .help = "Reading the catalogue"},
    {.name = "ra",
     .kind = OPTION_TEXT,
     .argument = "COLUMN",
     .help =
         "column of the right ascension, if its name is not a common one; likewise for those below",
     .store = AT(columns.ra)},
    {.name = "dec",
     .kind = OPTION_TEXT,
     .argument = "COLUMN",
     .help = "declination",
     .store = AT(columns.dec)},
    {.name = "mag",
     .kind = OPTION_TEXT,
     .argument = "COLUMN",
     .help = "magnitude",
     .store = AT(columns.mag)},
    {.name = "colour",
     .kind = OPTION_TEXT,
     .argument = "COLUMN",
     .help = "colour B-V",
     .store = AT(columns.colour)},
    {.name = "id",
     .kind = OPTION_TEXT,
     .argument = "COLUMN",
     .help = "the catalogue's own number of the star",
     .store = AT(columns.id)},
    {.name = "pm-ra",
     .kind = OPTION_TEXT,
     .argument = "COLUMN",
     .help = "proper motion in right ascension, times cos(dec); mas per year unless the unit says "
             "otherwise",
     .store = AT(columns.pm_ra)},
    {.name = "pm-dec",
     .kind = OPTION_TEXT,
     .argument = "COLUMN",
     .help = "proper motion in declination",
     .store = AT(columns.pm_dec)},
    {.name = "pm-without-cos-dec",
     .help = "the proper motion in right ascension is that of the coordinate, not times cos(dec)",
     .store = AT(columns.pm_without_cos_dec)},
    {.name = "columns",
     .kind = OPTION_TEXT,
     .argument = "NAMES",
     .help = "the columns of text without a row of names, with units other than degrees and mas "
             "per year: hip,ra:h,dec,-,mag",
     .store = AT(columns.columns)},
    {.name = "describe",
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "the byte-by-byte description of a table of fixed width (ReadMe beside it, if that "
             "names the table)",
     .store = AT(columns.describe)},
    {.name = "table",
     .kind = OPTION_TEXT,
     .argument = "NAME",
     .help = "which of several tables in a file, by name or number",
     .store = AT(columns.table)},
    {.name = "ra-hours",
     .help = "the right ascension is in hours, though neither its column's name nor its unit says "
             "so",
     .store = AT(columns.ra_in_hours)},
    {.name = "epoch",
     .kind = OPTION_NUMBER,
     .argument = "YEAR",
     .help = "move the stars by their proper motions to where they are in this year",
     .low = 1000,
     .high = 3000,
     .store = AT(columns.to_epoch)},
    {.name = "from-epoch",
     .kind = OPTION_NUMBER,
     .argument = "YEAR",
     .help = "the year that the catalogue's positions are for (what it says; 2000)",
     .low = 1000,
     .high = 3000,
     .store = AT(columns.from_epoch)},
    {0},
};

/* A line on the terminal that says how far the work is; nothing when stderr is no terminal. */
struct progress {
    const char *what;
    int percent;
    bool on;
};

static void show_progress(double share, void *context)
{
    struct progress *progress = context;
    int percent = (int)(share * 100);
    if (progress->on && percent != progress->percent) {
        progress->percent = percent;
        fprintf(stderr, "\r%s %3d %% ", progress->what, percent);
    }
}

static void end_progress(struct progress *progress)
{
    if (progress->on && progress->percent >= 0) {
        fprintf(stderr, "\r%*s\r", (int)strlen(progress->what) + 8, "");
    }
    progress->percent = -1;
}

static const char *kind_of_row(const struct catalogue_report *report)
{
    return report->rows_are_lines ? "line" : "row";
}

static void tell_about_rows(const struct catalogue_report *report, const char *name)
{
    if (report->bad > 0) {
        utf8_write_shown(stderr, name);
        fprintf(stderr, ": %ld of %ld rows %s bad and left out:\n", report->bad, report->rows,
                report->bad == 1 ? "is" : "are");
    }
    for (int i = 0; i < report->samples; i++) {
        fprintf(stderr, "  %s %ld: ", kind_of_row(report), report->sample[i].line);
        utf8_write_shown(stderr, report->sample[i].reason);
        fputc('\n', stderr);
    }
    if (report->bad > report->samples) {
        fprintf(stderr, "  and %ld more\n", report->bad - report->samples);
    }
    for (int i = 0; i < report->warnings; i++) {
        utf8_write_shown(stderr, name);
        fputs(": warning: ", stderr);
        utf8_write_shown(stderr, report->warning[i]);
        fputc('\n', stderr);
    }
}

static int read_one(struct catalogue *catalogue, const char *name,
                    const struct build_settings *settings, struct progress *progress,
                    struct error *err)
{
    struct catalogue_columns columns = settings->columns;
    columns.has_faintest = !isnan(settings->faintest);
    columns.has_brightest = !isnan(settings->brightest);
    columns.faintest = settings->faintest;
    columns.brightest = settings->brightest;
    columns.threads = settings->threads;
    struct catalogue_report report = {0};
    progress->what = "reading stars";
    int code = catalogue_read(catalogue, &report, name, &columns, show_progress, progress, err);
    end_progress(progress);
    if (!code && report.bad * 100 > report.rows && !settings->accept_bad_rows) {
        return error_set(err, ERROR_INPUT,
                         "%s: %.1f %% of the rows are bad, expected at most 1 %%; "
                         "--accept-bad-rows goes on with the others (%s %ld: %s)",
                         name, 100.0 * (double)report.bad / (double)report.rows,
                         kind_of_row(&report), report.sample[0].line, report.sample[0].reason);
    }
    if (!code) {
        tell_about_rows(&report, name);
    }
    return code;
}

/* Drops the stars outside. ERROR_INPUT if none are left. */
static int keep_region(struct catalogue *catalogue, const struct region *region, struct error *err)
{
    double centre[3], v[3];
    long kept = 0;
    vector_from_radec(centre, region->ra_deg, region->dec_deg);
    for (long i = 0; i < catalogue->count; i++) {
        order_star_vector(v, &catalogue->star[i]);
        if (vector_angle_deg(v, centre) <= region->within_deg) {
            catalogue->star[kept++] = catalogue->star[i];
        }
    }
    catalogue->count = kept;
    return kept > 0
               ? 0
               : error_set(err, ERROR_INPUT, "no star lies within %g degrees of RA %.4f, Dec %.4f",
                           region->within_deg, region->ra_deg, region->dec_deg);
}

/* "stars/bright.csv.gz" becomes "bright". */
static void name_after_file(char *out, size_t size, const char *file)
{
    const char *start = path_base(file);
    snprintf(out, size, "%s", start);
    for (int endings = 0; endings < 2; endings++) {
        char *dot = strrchr(out, '.');
        bool packed = dot && strcmp(dot, ".gz") == 0;
        if (dot && dot > out) {
            *dot = '\0';
        }
        if (!packed) {
            return;
        }
    }
}

/* What would make hours of work vain is found before the work. An index may be built again. */
static int check_output(const struct build_settings *settings, int catalogues, char **catalogue,
                        struct error *err)
{
    const struct output output = {settings->output, "the index",
                                  .may_replace = FILE_KIND_BIT(FILE_INDEX)};
    struct outputs outputs = {.replace = settings->replace};
    int code = 0;
    for (int i = 0; !code && i < catalogues; i++) {
        code = outputs_add_input(&outputs, catalogue[i], "its own catalogue", err);
    }
    if (!code && settings->columns.describe) {
        code = outputs_add_input(&outputs, settings->columns.describe, "its description", err);
    }
    code = code ? code : outputs_add(&outputs, &output, err);
    code = code ? code : outputs_check(&outputs, file_kind_look, err);
    outputs_free(&outputs);
    return code;
}

static void say_result(FILE *out, const char *name, const struct build_report *report,
                       double seconds)
{
    fprintf(out,
            "%s: %ld stars of magnitude %.2f to %.2f, %ld quads of median width %.2g degrees, "
            "%.1f MB, %.1f s\n",
            name, report->stars, report->brightest, report->faintest, report->quads,
            report->median_deg, (double)report->bytes / 1e6, seconds);
    if (report->dropped > 0) {
        fprintf(out,
                "%ld fainter stars of places with more than %g in a square degree are left "
                "out; --density keeps more\n",
                report->dropped, report->density);
    }
}

static int build(struct catalogue *catalogue, const struct build_settings *settings,
                 const char *first_file, struct progress *progress, double start, FILE *out,
                 struct error *err)
{
    char name[64];
    struct file_out file = {0};
    struct build_report report = {0};
    name_after_file(name, sizeof name, first_file);
    const struct build_options how = {
        .name = settings->name ? settings->name : name,
        .source = settings->source,
        .faintest = NAN, /* seen to while reading */
        .density = settings->density > 0    ? settings->density
                   : settings->region.given ? all_stars
                                            : 0,
        .neighbours = settings->neighbours,
        .quads = settings->quads,
        .threads = settings->threads,
        .beside = settings->output,
        .progress = show_progress,
        .context = progress,
    };
    progress->what = "choosing quads";
    int code = file_out_open(&file, settings->output, err);
    if (code) {
        return code;
    }
    code = build_index(file.stream, &report, catalogue, &how, err);
    end_progress(progress);
    if (code) {
        file_out_abandon(&file);
        return code;
    }
    /* A short write leaves the stream's error mark, which the commit looks at. */
    code = file_out_commit(&file, err);
    if (!code) {
        say_result(out, settings->output, &report, stopwatch_s() - start);
    }
    return code;
}

static int run(const void *given, int operands, char **operand, FILE *out, struct error *err)
{
    const struct build_settings *settings = given;
    double start = stopwatch_s();
    struct progress progress = {.percent = -1, .on = isatty(STDERR_FILENO)};
    struct catalogue catalogue = {0};
    int code = check_output(settings, operands, operand, err);
    if (!code && settings->region.within_deg != defaults.region.within_deg &&
        !settings->region.given) {
        code = error_set(err, ERROR_USAGE, "--within needs --near");
    }
    for (int i = 0; i < operands && !code; i++) {
        code = read_one(&catalogue, operand[i], settings, &progress, err);
    }
    if (!code && settings->region.given) {
        code = keep_region(&catalogue, &settings->region, err);
    }
    if (!code) {
        code = build(&catalogue, settings, operand[0], &progress, start, out, err);
    }
    catalogue_free(&catalogue);
    return code;
}

const struct command command_build = {
    .name = "build",
    .summary = "Read star catalogues and write an index of them.",
    .operands = "CATALOGUE...",
    .least = 1,
    .most = COMMAND_ANY_NUMBER,
    .about =
        "A catalogue is text with cells separated by comma, tab, semicolon, bar or blanks, text of "
        "fixed width with a byte-by-byte description, a VOTable, or a table in a FITS file, each "
        "also compressed by gzip. Columns with common names (ra, ra_deg, RAJ2000, dec, vmag, "
        "phot_g_mean_mag, b_v, hip, pmra, ...) are recognised automatically, and so are the units "
        "and epochs of catalogues known by their columns. COLUMN is a name, or name and unit, as "
        "in ra:h. Positions are ICRS, in degrees unless a unit, the column's name or the catalogue "
        "says otherwise; cells like 12:34:56.7 are hours in right ascension and degrees in "
        "declination. Several catalogues are merged.\n\nInvalid rows are skipped and reported; the "
        "build stops if they exceed 1 %.",
    .options = options,
    .defaults = &defaults,
    .settings_size = sizeof defaults,
    .run = run,
};
