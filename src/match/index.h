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
    INDEX_CODE_UNIT = 32000 /* a code of 1 is stored as this */
};

/* The code space is cut into cells of 1/25; see index_code_cell. */
enum { INDEX_RE_CELLS = 26, INDEX_IM_CELLS = 46 };
#define INDEX_CODE_CELLS \
    ((uint32_t)INDEX_RE_CELLS * INDEX_IM_CELLS * INDEX_RE_CELLS * INDEX_IM_CELLS)

struct index_star {
    int32_t v[3];   /* ICRS unit vector times 2147483647 */
    int16_t mag;    /* thousandths */
    int16_t colour; /* B-V, thousandths, or INDEX_NO_COLOUR */
};

struct index_quad {
    int16_t code[4];  /* times INDEX_CODE_UNIT */
    uint32_t star[4]; /* A, B, C, D */
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
    uint32_t neighbours;        /* brighter neighbours that quads were made of */
};

/* An index in memory. Borrowed views into bytes that must outlive it. Starts as all zeros. */
struct index {
    struct index_facts facts;
    const struct index_star *star;
    const uint32_t *id; /* the catalogue's numbers, one a star */
    uint32_t stars;
    const struct index_cell *cell; /* all levels, one behind the other, and one closing cell */
    int levels;                    /* level l has 12 * 4^l cells */
    const uint32_t *bucket;        /* INDEX_CODE_CELLS + 1: where each code cell's quads begin */
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

/* Verifies every section against its checksum and every number against its limits: cells and buckets
 * in order, stars of length 1 and in the cell and order they claim, quads of four existing stars
 * whose code is what the stars say. Slow (seconds). ERROR_INPUT with the first fault. */
int index_check(const void *bytes, size_t size, struct error *err);

/* Name, offset and size of section i (0-based) for display; false past the last. */
bool index_section(const void *bytes, size_t size, int i, char name[5], uint64_t *offset,
                   uint64_t *length);

/* Cell of a code, all four numbers clamped into range. */
uint32_t index_code_cell(const int part[4]);
/* Which part of one axis a stored code number falls into; axis 0..3. Not clamped. */
int index_code_part(int code, int axis);

/* Makes the quad of four stars as the file holds it. diameter: the distance A-B on the tangent plane,
 * radians. False if two of them coincide or they span half the sky. */
bool index_make_quad(struct index_quad *quad, double *diameter, const struct index *index,
                     const uint32_t members[4]);

/* Unit vector of a star. */
void index_star_vector(double v[3], const struct index_star *star);

/* Calls visit for each run of consecutive stars of one level in cells that touch the disc. A run may
 * hold stars outside the disc: the caller looks at each. radius in radians, up to pi. */
void index_visit_level(const struct index *index, int level, const double centre[3], double radius,
                       void (*visit)(uint32_t first, uint32_t end, void *context), void *context);

/* The brightest stars within radius (radians) of a direction, brightest first, at most limit of
 * them, none fainter than mag (thousandths). out takes limit numbers. Returns how many. */
int index_brightest(uint32_t *out, int limit, const struct index *index, const double centre[3],
                    double radius, int mag);

#endif
