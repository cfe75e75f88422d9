/* match/index.h: the index of stars and quads, used straight from the mapped file.
 * The file format is described in index-build/FORMAT.md. */
#ifndef ALIDADE_MATCH_INDEX_H
#define ALIDADE_MATCH_INDEX_H

#include "base/error.h"
#include "base/file.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    INDEX_VERSION = 1,
    INDEX_MAX_LEVELS = 11,
    INDEX_NO_COLOUR = INT16_MIN,
    INDEX_SHAPE_UNIT = 32000, /* a shape number of 1 is this many units */
    INDEX_SHAPE_STEP = 5,     /* units that a stored shape number counts */
    INDEX_CELL_UNITS = 1280, /* units across a shape cell, 1/25 */
    INDEX_MAX_NEIGHBOURS = 15
};

/* The shape space is cut into cells of 1/25; see index_shape_cell. */
enum { INDEX_RE_CELLS = 26, INDEX_IM_CELLS = 46 };
#define INDEX_NO_STAR UINT32_MAX
#define INDEX_SHAPE_CELLS                                                                           \
    ((uint32_t)INDEX_RE_CELLS * INDEX_IM_CELLS * INDEX_RE_CELLS * INDEX_IM_CELLS)

struct index_star {
    int32_t v[3];   /* ICRS unit vector times 2147483647 */
    int16_t mag;    /* thousandths */
    int16_t colour; /* B-V, thousandths, or INDEX_NO_COLOUR */
};

/* Ordinal 0 is the anchor, ordinal n its n-th nearest brighter star. */
struct index_quad {
    uint32_t anchor;   /* the faintest of the four */
    uint16_t members;  /* ordinals of A, B, C, D, four bits each, A lowest */
    uint16_t diameter; /* 24000 + 2000 ln(A-B on the tangent plane, radians) */
    uint8_t shape[4];   /* place within the shape cell, in steps of 5 units */
};

/* One HEALPix cell (nested numbering) of one level; its stars end where the next cell's begin. */
struct index_cell {
    float v[3]; /* unit vector of its centre */
    uint32_t first_star;
};

struct index_facts {
    char name[64];    /* of the catalogue */
    char source[128]; /* provenance and licence in short */
    double epoch_year;
    double brightest, faintest; /* magnitudes */
};

/* An index in memory. Borrowed views into bytes that must outlive it. Starts as all zeros. */
struct index {
    struct index_facts facts;
    const struct index_star *star;
    const uint32_t *id;      /* the catalogue's numbers, one a star; see index_number */
    const uint64_t *wide_id; /* the same where one of them exceeds 32 bits; id is NULL then */
    uint32_t stars;
    const struct index_cell *cell; /* all levels, one behind the other, and one closing cell */
    int levels;                    /* level l has 12 * 4^l cells */
    const uint32_t *near;          /* stars * neighbours: the nearest brighter stars of each */
    int neighbours;
    const uint32_t *bucket; /* INDEX_SHAPE_CELLS + 1: where each shape cell's quads begin */
    const struct index_quad *quad;
    uint32_t quads;
    size_t size;
};

/* An index and the file it is mapped from. Starts as all zeros. */
struct index_file {
    struct index index;
    struct file_map map;
};

/* Checks the header and the section table and sets the views; costs nothing that grows with the
 * file. The contents of sections are not looked at: users of the views check each number they
 * take from there. ERROR_INPUT names what is wrong: not an index, another version or byte order,
 * cut short, damaged header. */
int index_decode(struct index *index, const void *bytes, size_t size, struct error *err);

/* Maps and decodes a file. Inverse: index_close. */
int index_open(struct index_file *file, const char *name, struct error *err);
void index_close(struct index_file *file);

/* Verifies every section against its checksum and every number against its limits: cells and
 * buckets in order, stars of length 1 and in the cell and order they claim, quads of four existing
 * stars whose shape is what the stars say. Slow (seconds). ERROR_INPUT with the first fault. */
int index_check(const void *bytes, size_t size, struct error *err);

/* Name, offset and size of section i (0-based) for display; false past the last. */
bool index_section(const void *bytes, size_t size, int i, char name[5], uint64_t *offset,
                   uint64_t *length);

/* Cell of a shape from its part on each axis, clamped into range. */
uint32_t index_shape_cell(const int part[4]);
/* Which part of an axis (0..3) a shape number in units falls into; not clamped. */
int index_shape_part(int units, int axis);
/* Where a part of an axis begins, units. */
int index_shape_start(int part, int axis);

/* The distance A-B as a quad stores it (see struct index_quad), kept within what 16 bits hold; 0
 * for a distance of 0. */
uint16_t index_store_diameter(double radians);

/* Makes the quad of an anchor and three of its neighbours as the file holds it, and its shape cell.
 * index needs its stars and near set. False if a neighbour is missing, two of the four are closer
 * than 20 arcsec to each other, or they are wider than 30 degrees. */
bool index_make_quad(struct index_quad *quad, uint32_t *cell, const struct index *index,
                     uint32_t anchor, const int ordinal[3]);

/* The stars A, B, C, D of a quad; false if it names one that does not exist. */
bool index_quad_stars(uint32_t star[4], const struct index *index, const struct index_quad *quad);

/* The catalogue's own number of a star, 0 for none. */
uint64_t index_number(const struct index *index, uint32_t star);

/* Unit vector of a star. */
void index_star_vector(double v[3], const struct index_star *star);

/* Largest distance from a cell's centre to its edge at a level, radians. */
double index_cell_radius(int level);

/* Calls visit for each run of consecutive stars of one level in cells that touch the disc. A run
 * may hold stars outside the disc: the caller looks at each. radius in radians, up to pi. */
void index_visit_level(const struct index *index, int level, const double centre[3], double radius,
                       void (*visit)(uint32_t first, uint32_t end, void *context), void *context);

/* The brightest stars within radius (radians) of a direction, brightest first, at most limit of
 * them, none fainter than mag (thousandths). out takes limit numbers. Returns how many. */
int index_brightest(uint32_t *out, int limit, const struct index *index, const double centre[3],
                    double radius, int mag);

#endif
