/* demo/render_main.c: the program render: one photograph, or a series from a fixed tripod. */
#include "base/options.h"
#include "base/text.h"
#include "demo/render_write.h"
#include "sky/vector.h"
#include "sky/wcs_fits.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

struct size {
    int width, height;
};

struct pair {
    double x, y;
};

struct angle {
    double deg;
    bool set;
};

struct settings {
    const char *out, *stars, *objects, *truth, *wcs;
    struct angle ra, dec;
    double up;
    const char *start;
    double latitude, longitude, azimuth, altitude, roll, interval;
    int frames;
    double focal, aperture, pixel, exposure;
    struct size size;
    double sky, fwhm, read_noise, distortion, moustache, axis_x, axis_y;
    bool mirrored, tracked, clean, bare, cap;
    int stacked, seed;
    double cloud, moon, foreground, stated_focal, clock_error;
    struct pair knock;
    double knock_at, wind, wind_angle, defocus, tilt, dew, flat, amp_glow;
    int satellites, aeroplanes, wires, dead_columns;
    int zone;
    bool state_zone, state_place, refraction;
    struct skyline skyline;
};

static bool read_ra(void *member, const char *text)
{
    struct angle *angle = member;
    angle->set = true;
    return text_read_ra(&angle->deg, text);
}

static bool read_dec(void *member, const char *text)
{
    struct angle *angle = member;
    angle->set = true;
    return text_read_dec(&angle->deg, text);
}

static bool read_pair(void *member, const char *text)
{
    struct pair *pair = member;
    int end = 0;
    return sscanf(text, "%lf,%lf%n", &pair->x, &pair->y, &end) == 2 && text[end] == '\0';
}

static bool read_skyline(void *member, const char *text)
{
    return skyline_read(member, text);
}

static bool read_size(void *member, const char *text)
{
    struct size *size = member;
    int end = 0;
    return sscanf(text, "%5dx%5d%n", &size->width, &size->height, &end) == 2 && text[end] == '\0';
}

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    {.kind = OPTION_HEADING, .help = "Files"},
    {"out", 'o', OPTION_TEXT, "FILE",
     "What to write: .dng (camera raw with a colour filter mosaic), .fits (16 bits), .png (16 "
     "bits, "
     "8 for a stack) or .jpg (with EXIF). With "
     "--frames the name must hold one %d-style number, as in night-%03d.jpg.",
     AT(out), 0, 0, true, NULL, NULL},
    {"stars", 0, OPTION_TEXT, "FILE", "Star table (default catalogs/stars.tsv).", AT(stars), 0, 0,
     false, NULL, NULL},
    {"objects", 0, OPTION_TEXT, "FILE", "Also draw the nebulae and galaxies of this table.",
     AT(objects), 0, 0, false, NULL, NULL},
    {"truth", 0, OPTION_TEXT, "FILE", "Write a table of the true stars.", AT(truth), 0, 0, false,
     NULL, NULL},
    {"wcs", 0, OPTION_TEXT, "FILE", "Write the true WCS as a FITS header.", AT(wcs), 0, 0, false,
     NULL, NULL},
    {"bare", 0, OPTION_FLAG, NULL, "Leave out EXIF and header facts.", AT(bare), 0, 0, false, NULL,
     NULL},
    {.kind = OPTION_HEADING, .help = "Pointing at a place on the sky"},
    {"ra", 0, OPTION_READ, "RA", "Right ascension of the picture's middle, ICRS.", AT(ra), 0, 0,
     false, read_ra, "a right ascension like 83.82 or 5h35m17s"},
    {"dec", 0, OPTION_READ, "DEC", "Declination of the picture's middle.", AT(dec), 0, 0, false,
     read_dec, "a declination like -5.39 or -5:23:28"},
    {"up", 0, OPTION_NUMBER, "DEG", "Position angle of picture-up, east of north (default 0).",
     AT(up), -360, 360, false, NULL, NULL},
    {.kind = OPTION_HEADING, .help = "Pointing a fixed tripod (with --start)"},
    {"start", 0, OPTION_TEXT, "TIME", "Start of the first exposure, UTC: 2026-01-15T20:30:00.",
     AT(start), 0, 0, false, NULL, NULL},
    {"latitude", 0, OPTION_NUMBER, "DEG", "North positive (default 50).", AT(latitude), -90, 90,
     false, NULL, NULL},
    {"longitude", 0, OPTION_NUMBER, "DEG", "East positive (default 10).", AT(longitude), -180, 360,
     false, NULL, NULL},
    {"azimuth", 0, OPTION_NUMBER, "DEG", "From north through east (default 180).", AT(azimuth),
     -360, 360, false, NULL, NULL},
    {"altitude", 0, OPTION_NUMBER, "DEG", "Above the horizon (default 40).", AT(altitude), -90, 90,
     false, NULL, NULL},
    {"roll", 0, OPTION_NUMBER, "DEG", "Camera turned clockwise, seen from behind (default 0).",
     AT(roll), -360, 360, false, NULL, NULL},
    {"frames", 0, OPTION_INTEGER, "N", "How many frames; the sky drifts between (default 1).",
     AT(frames), 1, 100000, false, NULL, NULL},
    {"interval", 0, OPTION_NUMBER, "S", "From one start to the next (default exposure + 1).",
     AT(interval), 0, 86400, false, NULL, NULL},
    {"refraction", 0, OPTION_FLAG, NULL, "Stars stand as high as the air lifts them.",
     AT(refraction), 0, 0, false, NULL, NULL},
    {.kind = OPTION_HEADING, .help = "Camera and lens"},
    {"focal", 0, OPTION_NUMBER, "MM", "Focal length (default 250).", AT(focal), 1, 5000, false,
     NULL, NULL},
    {"aperture", 0, OPTION_NUMBER, "N", "The f-number (default 4).", AT(aperture), 0.5, 64, false,
     NULL, NULL},
    {"pixel", 0, OPTION_NUMBER, "UM", "Pixel pitch (default 3.7).", AT(pixel), 0.5, 100, false,
     NULL, NULL},
    {"size", 0, OPTION_READ, "WxH", "Pixels (default 6000x4000).", AT(size), 0, 0, false, read_size,
     "a size like 3000x2000"},
    {"exposure", 0, OPTION_NUMBER, "S", "Exposure (default 2).", AT(exposure), 0.0001, 3600, false,
     NULL, NULL},
    {"distortion", 0, OPTION_NUMBER, "SHARE", "At the corner, barrel negative (default -0.006).",
     AT(distortion), -0.15, 0.15, false, NULL, NULL},
    {"moustache", 0, OPTION_NUMBER, "SHARE", "The same, growing with the fourth power (default 0).",
     AT(moustache), -0.1, 0.1, false, NULL, NULL},
    {"axis-x", 0, OPTION_NUMBER, "PX", "Optical axis right of the middle (default 0).", AT(axis_x),
     -1e5, 1e5, false, NULL, NULL},
    {"axis-y", 0, OPTION_NUMBER, "PX", "Optical axis below the middle (default 0).", AT(axis_y),
     -1e5, 1e5, false, NULL, NULL},
    {"mirrored", 0, OPTION_FLAG, NULL, "Left and right exchanged.", AT(mirrored), 0, 0, false, NULL,
     NULL},
    {"fwhm", 0, OPTION_NUMBER, "PX", "Width of stars (default 2.8).", AT(fwhm), 0.8, 50, false,
     NULL, NULL},
    {"read-noise", 0, OPTION_NUMBER, "E", "Electrons a pixel (default 5).", AT(read_noise), 0.1,
     1000, false, NULL, NULL},
    {"tracked", 0, OPTION_FLAG, NULL, "Round stars instead of trails.", AT(tracked), 0, 0, false,
     NULL, NULL},
    {"stacked", 0, OPTION_INTEGER, "N", "The mean of so many tracked exposures.", AT(stacked), 1,
     100000, false, NULL, NULL},
    {"clean", 0, OPTION_FLAG, NULL, "No hot pixels, pattern, vignetting or Moon.", AT(clean), 0, 0,
     false, NULL, NULL},
    {.kind = OPTION_HEADING, .help = "Sky and surroundings"},
    {"sky", 0, OPTION_NUMBER, "MAG", "Magnitudes a square arcsecond (default 18.3).", AT(sky), 10,
     25, false, NULL, NULL},
    {"moon", 0, OPTION_NUMBER, "SHARE", "Gradient of the sky (default 0.25).", AT(moon), 0, 5,
     false, NULL, NULL},
    {"cloud", 0, OPTION_NUMBER, "MAG", "Patchy cloud, mean extinction (default 0).", AT(cloud), 0,
     20, false, NULL, NULL},
    {"cap", 0, OPTION_FLAG, NULL, "Lens cap on: no light at all, as for a dark frame.", AT(cap), 0,
     0, false, NULL, NULL},
    {"foreground", 0, OPTION_NUMBER, "SHARE", "Skyline, share of the height (default 0).",
     AT(foreground), 0, 1, false, NULL, NULL},
    {"skyline", 0, OPTION_READ, "AZ:ALT...",
     "Roofs and trees as a settings file has them, with --start: \"150:10 180:25\".", AT(skyline),
     0, 0, false, read_skyline, "points like 150:10 180:25"},
    {"wires", 0, OPTION_INTEGER, "N", "Power lines (default 0).", AT(wires), 0, 50, false, NULL,
     NULL},
    {"satellites", 0, OPTION_INTEGER, "N", "Lines across the sky (default 0).", AT(satellites), 0,
     100, false, NULL, NULL},
    {"aeroplanes", 0, OPTION_INTEGER, "N", "Lamps, one flashing (default 0).", AT(aeroplanes), 0,
     100, false, NULL, NULL},
    {"flat", 0, OPTION_NUMBER, "SHARE",
     "A flat frame: no star, evenly lit to this share of full scale.", AT(flat), 0, 1, false, NULL,
     NULL},
    {.kind = OPTION_HEADING, .help = "What goes wrong"},
    {"knock", 0, OPTION_READ, "DX,DY", "The picture jumps in mid-exposure, px.", AT(knock), 0, 0,
     false, read_pair, "two numbers like 5,-3"},
    {"knock-at", 0, OPTION_NUMBER, "SHARE", "When, of the exposure (default 0.5).", AT(knock_at), 0,
     1, false, NULL, NULL},
    {"wind", 0, OPTION_NUMBER, "PX", "rms swing of the camera (default 0).", AT(wind), 0, 100,
     false, NULL, NULL},
    {"wind-angle", 0, OPTION_NUMBER, "DEG", "From right (0) to down (90).", AT(wind_angle), -360,
     360, false, NULL, NULL},
    {"defocus", 0, OPTION_NUMBER, "PX", "Disc that a star becomes (default 0).", AT(defocus), 0,
     100, false, NULL, NULL},
    {"tilt", 0, OPTION_NUMBER, "SHARE", "Sensor leans: stars at the right edge are wider by this.",
     AT(tilt), 0, 5, false, NULL, NULL},
    {"dew", 0, OPTION_NUMBER, "SHARE", "On the lens, 0 to 1 (default 0).", AT(dew), 0, 1, false,
     NULL, NULL},
    {"dead-columns", 0, OPTION_INTEGER, "N", "Columns without or full of charge.", AT(dead_columns),
     0, 1000, false, NULL, NULL},
    {"amp-glow", 0, OPTION_NUMBER, "E", "Electrons of warmth at the right edge.", AT(amp_glow), 0,
     1e5, false, NULL, NULL},
    {.kind = OPTION_HEADING, .help = "What the header claims"},
    {"stated-focal", 0, OPTION_NUMBER, "MM",
     "Focal length in EXIF (default the true one, rounded).", AT(stated_focal), 1, 5000, false,
     NULL, NULL},
    {"zone", 0, OPTION_INTEGER, "MIN", "EXIF clock ahead of UTC (default 0).", AT(zone), -840, 840,
     false, NULL, NULL},
    {"state-zone", 0, OPTION_FLAG, NULL, "EXIF of a DNG tells the zone.", AT(state_zone), 0, 0,
     false, NULL, NULL},
    {"state-place", 0, OPTION_FLAG, NULL, "GPS of a DNG tells the place.", AT(state_place), 0, 0,
     false, NULL, NULL},
    {"clock-error", 0, OPTION_NUMBER, "S", "EXIF clock fast by this (default 0).", AT(clock_error),
     -1e6, 1e6, false, NULL, NULL},
    {"seed", 0, OPTION_INTEGER, "N", "Of the noise (default 1).", AT(seed), 0, 2000000000, false,
     NULL, NULL},
    {0}};

static struct settings default_settings(const struct render_options *typical)
{
    return (struct settings){.stars = "catalogs/stars.tsv",
                             .latitude = 50,
                             .longitude = 10,
                             .azimuth = 180,
                             .altitude = 40,
                             .interval = -1,
                             .frames = 1,
                             .focal = typical->camera.focal_mm,
                             .aperture = typical->camera.f_number,
                             .pixel = typical->camera.pixel_um,
                             .exposure = typical->camera.exposure_s,
                             .size = {typical->lens.width, typical->lens.height},
                             .sky = typical->camera.sky_mag,
                             .fwhm = typical->camera.fwhm_px,
                             .read_noise = typical->camera.read_noise_e,
                             .distortion = typical->lens.distortion,
                             .moon = typical->light.moon_glow,
                             .knock_at = 0.5,
                             .seed = 1};
}

static bool ends_with(const char *text, const char *ending)
{
    size_t length = strlen(text), tail = strlen(ending);
    return length >= tail && strcasecmp(text + length - tail, ending) == 0;
}

/* So bright a sky, and stars 15 magnitudes fainter. */
static void light_evenly(struct render_options *o, double share)
{
    double sky_e = share * (SENSOR_WHITE - o->sensor.black_adu) * o->sensor.e_per_adu;
    o->camera.throughput *= 1e-6;
    o->camera.sky_mag += 2.5 * log10(camera_sky_e(&o->camera) / sky_e);
}

static void apply(struct render_options *o, const struct settings *s)
{
    o->camera.focal_mm = s->focal;
    o->camera.f_number = s->aperture;
    o->camera.pixel_um = s->pixel;
    o->camera.exposure_s = s->exposure;
    o->camera.throughput *= s->cap ? 1e-12 : 1;
    o->camera.sky_mag = s->sky;
    o->camera.fwhm_px = s->fwhm;
    o->camera.read_noise_e = s->read_noise;
    o->camera.stacked = s->stacked;
    o->tracked = s->tracked || s->stacked > 1;
    o->refracts = s->refraction && s->start;
    o->lens.width = s->size.width;
    o->lens.height = s->size.height;
    o->lens.distortion = s->distortion;
    o->lens.moustache = s->moustache;
    o->tilt_blur = s->tilt;
    o->lens.axis_x = s->axis_x;
    o->lens.axis_y = s->axis_y;
    o->lens.mirrored = s->mirrored;
    o->light.moon_glow = s->clean ? 0 : s->moon;
    o->light.vignetting = s->clean ? 0 : o->light.vignetting;
    o->light.cloud = s->cloud;
    o->light.foreground = s->foreground;
    o->light.wires = s->wires;
    o->skyline = s->skyline.points ? &s->skyline : NULL;
    o->shake = (struct render_shake){s->knock.x,    s->knock.y, s->knock_at, s->wind,
                                     s->wind_angle, s->defocus, s->dew};
    o->traffic = (struct render_traffic){s->satellites, s->aeroplanes, (uint64_t)s->seed};
    o->sensor.dead_columns = s->dead_columns;
    o->sensor.amp_glow_e = s->amp_glow;
    if (s->flat > 0) {
        light_evenly(o, s->flat);
    }
    o->sensor.hot_share = s->clean ? 0 : o->sensor.hot_share;
    o->sensor.mosaic = ends_with(s->out, ".dng");
    o->sensor.pattern_e = s->clean ? 0 : o->sensor.pattern_e;
}

/* Points frame number i; the first is 0. */
static int point(struct render_options *o, const struct settings *s, int i, struct error *err)
{
    struct utc start;
    struct place place = {.latitude_deg = s->latitude, .longitude_deg = s->longitude};
    if (s->ra.set && s->dec.set && !s->start && !o->skyline) {
        o->ra_deg = s->ra.deg;
        o->dec_deg = s->dec.deg;
        o->up_angle_deg = s->up;
        return 0;
    }
    if (!s->start || s->ra.set || s->dec.set) {
        return error_set(err, ERROR_USAGE, "give either --ra and --dec, or --start");
    }
    if (!time_read(&start, s->start)) {
        return error_set(err, ERROR_USAGE, "--start %s: not a time like 2026-01-15T20:30:00",
                         s->start);
    }
    double interval = s->interval >= 0 ? s->interval : s->exposure + 1;
    if (!render_point_tripod(o, &place, time_add(start, i * interval), s->azimuth, s->altitude,
                             s->roll)) {
        return error_set(err, ERROR_USAGE, "--start %s: too far from our time", s->start);
    }
    return 0;
}

/* The name of frame i: the one %d or %0Nd in pattern replaced, if there are several. */
static int frame_name(char *out, size_t size, const char *pattern, int frames, int i,
                      struct error *err)
{
    const char *mark = strchr(pattern, '%');
    int width = 0, used = 0;
    if (frames == 1) {
        snprintf(out, size, "%s", pattern);
        return 0;
    }
    if (!mark || strchr(mark + 1, '%') ||
        (mark[1] != 'd' && (sscanf(mark, "%%0%1dd%n", &width, &used) != 1 || used == 0))) {
        return error_set(err, ERROR_USAGE, "%s: needs one %%d or %%03d to number %d frames",
                         pattern, frames);
    }
    int after = mark[1] == 'd' ? 2 : used;
    snprintf(out, size, "%.*s%0*d%s", (int)(mark - pattern), pattern, width, i + 1, mark + after);
    return 0;
}

static void report(const struct rendering *r, const char *name)
{
    double width, height;
    char ra[32], dec[32];
    wcs_field(&r->truth, &width, &height);
    text_write_ra(ra, sizeof ra, r->options.ra_deg);
    text_write_dec(dec, sizeof dec, r->options.dec_deg);
    printf("%s: %s %s, up %.2f deg, %.2f x %.2f deg, %.2f\"/px, stars to V %.1f\n", name, ra, dec,
           r->options.up_angle_deg, width, height, wcs_scale_arcsec(&r->truth), r->limit_mag);
}

static int write_frame(const struct rendering *r, const struct settings *s, int i,
                       struct error *err)
{
    char name[1024];
    struct render_header header = {.bare = s->bare,
                                   .stated_focal_mm = s->stated_focal,
                                   .zone_minutes = s->zone,
                                   .clock_error_s = s->clock_error,
                                   .zone_stated = s->state_zone,
                                   .place_stated = s->state_place,
                                   .latitude_deg = s->latitude,
                                   .longitude_deg = s->longitude};
    int result = frame_name(name, sizeof name, s->out, s->frames, i, err);
    if (!result) {
        result = render_write(r, name, &header, err);
    }
    if (!result) {
        report(r, name);
    }
    if (!result && s->truth) {
        result = frame_name(name, sizeof name, s->truth, s->frames, i, err);
        result = result ? result : render_write_truth(r, name, err);
    }
    if (!result && s->wcs) {
        result = frame_name(name, sizeof name, s->wcs, s->frames, i, err);
        result = result
                     ? result
                     : wcs_fits_write(&r->truth, &(struct file_target){.name = name}, false, err);
    }
    return result;
}

static int render_frames(const struct settings *s, struct render_options *o, struct error *err)
{
    struct starfield field = {0};
    struct nebulae nebulae = {0};
    int result = point(o, s, 0, err); /* before anything slow */
    if (!result) {
        result = starfield_load(&field, s->stars, 1, err);
    }
    if (!result && s->objects) {
        result = nebulae_load(&nebulae, s->objects, err);
    }
    for (int i = 0; i < s->frames && !result; i++) {
        struct rendering rendering = {0};
        o->seed = (uint64_t)s->seed * 1000003u + (uint64_t)i;
        result = point(o, s, i, err);
        if (!result) {
            result = render(&rendering, &field, s->objects ? &nebulae : NULL, o, err);
        }
        if (!result) {
            result = write_frame(&rendering, s, i, err);
        }
        rendering_free(&rendering);
    }
    nebulae_free(&nebulae);
    starfield_free(&field);
    return result;
}

int main(int argc, char **argv)
{
    struct render_options options = render_options_typical();
    struct settings settings = default_settings(&options);
    struct option_operands rest;
    struct error err = {0};
    int result = options_parse(&settings, &rest, rows, argc, argv, &err);
    if (!result && rest.help) {
        printf("usage: render --ra RA --dec DEC --out FILE [options]\n"
               "       render --start TIME --out FILE [options]\n\n"
               "Renders a photograph of the sky.\n\n");
        options_write_help(stdout, rows, 80);
        return 0;
    }
    if (!result && rest.count > 0) {
        result = error_set(&err, ERROR_USAGE, "%s: not expected; see --help", rest.item[0]);
    }
    if (!result) {
        apply(&options, &settings);
        result = render_frames(&settings, &options, &err);
    }
    if (!result && fflush(stdout)) {
        result = error_set(&err, ERROR_OUTPUT, "standard output could not be written");
    }
    if (result) {
        fprintf(stderr, "render: %s\n", err.text);
    }
    return result == ERROR_MEMORY ? ERROR_INPUT : result;
}
