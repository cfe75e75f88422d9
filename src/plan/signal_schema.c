#include "base/schema_rows.h"
#include "plan/signal_words.h"

static const struct schema_row frames_if_rows[] = {
    {ROW_NUMBER("exposure_x2", 0, NULL, "of twice the exposure"), ROW_OR_NULL},
    {ROW_NUMBER("lens_stop_faster", 0, NULL, "with a lens one stop faster"), ROW_OR_NULL},
    {ROW_NUMBER("sky_mag_darker", 0, NULL, "under a sky one magnitude darker"), ROW_OR_NULL},
    {0},
};
static const struct schema frames_if_schema = {.row = frames_if_rows};

static const struct schema_row rows[] = {
    {ROW_NUMBER("surface_mag_arcsec2", 2, "mag/arcsec2", "the target's brightness in V"),
     ROW_OR_NULL},
    {ROW_NUMBER("surface_sigma_mag", 2, "mag", "its standard error"), ROW_OR_NULL},
    {ROW_NUMBER("sky_mag_arcsec2", 2, "mag/arcsec2", "the sky's brightness in V"), ROW_OR_NULL},
    {ROW_NUMBER("target_e", 4, "electron/px", "of the target in a frame"), ROW_OR_NULL},
    {ROW_NUMBER("sky_e", 3, "electron/px", "of the sky in a frame"), ROW_OR_NULL},
    {ROW_NUMBER("read_noise_e", 3, "electron", "read noise"), ROW_OR_NULL},
    {ROW_NUMBER("read_noise_share", 3, NULL, "of all noise, as a variance"), ROW_OR_NULL},
    {ROW_NUMBER("snr_once", 5, NULL, "signal to noise of a pixel in one frame"), ROW_OR_NULL},
    {ROW_NUMBER("snr_wanted", 3, NULL, "the same that is wanted of a stack"), ROW_OR_NULL},
    {ROW_NUMBER("frames_needed", 0, NULL, "frames that this takes"), ROW_OR_NULL},
    {ROW_NUMBER("frames_low", 0, NULL, "if the target is a standard error brighter"), ROW_OR_NULL},
    {ROW_NUMBER("frames_high", 0, NULL, "if it is a standard error dimmer"), ROW_OR_NULL},
    {ROW_OBJECT("frames_if", frames_if_schema, "frames needed if something were better")},
    {0},
};
const struct schema signal_schema = {.row = rows};
