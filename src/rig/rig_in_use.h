/* rig/rig_in_use.h: a settings file with what is chosen from it for a run. */
#ifndef ALIDADE_RIG_RIG_IN_USE_H
#define ALIDADE_RIG_RIG_IN_USE_H

#include "image/frame.h"
#include "rig/body_table.h"
#include "rig/rig.h"

/* Starts as all zeros: nothing is known. Holds no memory of its own, but rig points into it: it
 * must not be moved. */
struct rig_in_use {
    struct rig_file file;
    struct rig_place typed;     /* a place that no file names */
    struct rig_body typed_body; /* and a camera */
    struct zone given_zone, place_zone, body_zone[RIG_MOST];
    struct rig rig;
};

/* Reads the settings file name and chooses. ERROR_INPUT, ERROR_MEMORY for the file; ERROR_USAGE,
 * beginning with its name, for a choice that it does not have. */
int rig_in_use_read(struct rig_in_use *use, const char *name, const struct rig_choice *choice,
                    struct error *err);

/* Whether it names cameras whose sensors are to be looked up in the table. */
bool rig_in_use_asks_cameras(const struct rig_in_use *use);

/* Looks them up, and the camera given for this run (NULL: none; then that of the defaults), which
 * becomes the body in use. name: of the settings file. Sensors are taken for 4:3 where their crop
 * factor is that of such cameras, else for 3:2 (common practice, no source), unless the body tells
 * its pixels. ERROR_INPUT, ERROR_USAGE for the one given, naming models like it. */
int rig_in_use_know_cameras(struct rig_in_use *use, const struct body_table *table,
                            const char *given, const char *name, struct error *err);

/* Reads what clocks show: the zone given for this run, as zone_file_read_any has it (NULL: none),
 * that of the place in use, and those of all bodies, from a folder such as /usr/share/zoneinfo.
 * name: of the settings file. ERROR_USAGE for a given one that is not there, beginning with what
 * gave it, ERROR_INPUT for the others. */
int rig_in_use_read_zones(struct rig_in_use *use, const char *folder, const char *given,
                          const char *name, struct error *err);

/* Whether it is a file of no bytes: one with nothing set, which cannot be mapped. */
bool rig_in_use_is_empty(const char *name);

/* From now on the place is that one: degrees, north and east positive, WGS 84. */
void rig_in_use_set_place(struct rig_in_use *use, double latitude_deg, double longitude_deg);

/* Makes the lens of that name the one that was named for this run; false if there is none. */
bool rig_in_use_name_lens(struct rig_in_use *use, const char *name);

/* The body that took a frame: the one that was named for this run, else the one that goes by the
 * name that the camera wrote, else the default; NULL if there is none. */
const struct rig_body *rig_in_use_body(const struct rig_in_use *use,
                                       const struct frame_facts *facts);

/* The lens that drew it, likewise. */
const struct rig_lens *rig_in_use_lens(const struct rig_in_use *use,
                                       const struct frame_facts *facts);

#endif
