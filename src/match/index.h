/* match/index.h: the index of stars and quads, used straight from the mapped file.
 * The file format is described in index-build/FORMAT.md. */
#ifndef ALIDADE_MATCH_INDEX_H
#define ALIDADE_MATCH_INDEX_H

#include "base/error.h"
#include "base/file.h"
#include "match/packed.h"
#include "match/shape_grid.h"
#include "sky/octahedron.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    INDEX_VERSION = 3,
    INDEX_MAX_LEVELS = 14,
    INDEX_NO_COLOUR = INT16_MIN,
    INDEX_MAX_NEIGHBOURS = 15,
    INDEX_MAX_THREES = 455 /* of so many */
};

#define INDEX_NO_STAR UINT32_MAX

struct index_star {
    int32_t place[2]; /* ICRS direction as octahedron_fold has it, times 2147483647 */
    int16_t mag;      /* thousandths */
    int16_t colour;   /* B-V, thousandths, or INDEX_NO_COLOUR */
};

/* A HEALPix cell (nested numbering) of one level that has stars in it or below. Its stars end where
 * the next record's begin; so do its parts in the level below. */
struct index_cell {
    int16_t centre[2]; /* as octahedron_fold has it, times 32767 */
    uint32_t first_star;
    uint32_t first_part; /* the record of the first of its quarters that are in the next level */
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
    const unsigned char *id; /* the catalogue's numbers, packed; see index_number */
    int id_width;
    uint32_t stars;
    const struct index_cell *cell; /* all levels, one behind the other, and one closing record */
    int levels;
    uint32_t level[INDEX_MAX_LEVELS + 1]; /* first record of each, and the closing one */
    const unsigned char *near; /* the nearest brighter stars of each, packed; see index_neighbour */
    int neighbours, near_width;
    uint32_t threes;                          /* ways to take three of them */
    unsigned char three[INDEX_MAX_THREES][3]; /* their ordinals, rising, from 1; see index_three */
    struct shape_grid grid;
    const unsigned char *block; /* see index_block_start */
    int block_width;
    const unsigned char *quad;
    uint64_t quad_bytes; /* what may be read of them, but for PACKED_SLACK */
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
 * blocks in order, stars in the cell and order they claim, quads of four existing stars whose shape
 * is what their place says. Slow (seconds). ERROR_INPUT with the first fault. */
int index_check(const void *bytes, size_t size, struct error *err);

/* Name, offset and size of section i (0-based) for display; false past the last. */
bool index_section(const void *bytes, size_t size, int i, char name[5], uint64_t *offset,
                   uint64_t *length);

/* Four stars that make a quad, and its shape. */
struct index_quad {
    uint32_t star[4]; /* A, B, C, D */
    int shape[4];     /* shape_units */
    double diameter;  /* A-B on the plane that touches the sky between them, radians */
};

/* Names four stars and finds their shape; which of equals is A, their order decides. False if one
 * does not exist or they have no shape. */
bool index_make_quad(struct index_quad *quad, const struct index *index, const uint32_t star[4]);
/* The same where the directions of the stars are at hand (index_star_vector; read only). */
bool index_shape_quad(struct index_quad *quad, const uint32_t star[4], double direction[4][3]);

/* The quads of one shape cell. */
struct index_block {
    const unsigned char *record, *upper;
    uint32_t count;
    uint32_t upper_skip, upper_bits; /* the first of upper are the record's; how many follow */
    int pair_width, low_width,
        width; /* bits of a pair of steps, of a number's lower part, of all */
};

/* False if the cell has none, or what stands there cannot be. */
bool index_block_open(struct index_block *block, const struct index *index, uint32_t cell);

/* Number of quad i: its anchor times the number of threes of neighbours, and which of them. */
uint64_t index_block_number(const struct index_block *block, uint32_t i);

/* Sets the number of neighbours, and with it the threes of them: in the order of their largest
 * ordinal, then of the next. */
void index_set_neighbours(struct index *index, int neighbours);
/* The number of a three: index->three[number] holds its ordinals. */
uint32_t index_three_number(const int ordinal[3]);

/* The quad of a number; the anchor, the faintest of the four, comes first where index_make_quad is
 * told of its stars. False if there can be none. */
bool index_numbered_quad(struct index_quad *quad, uint32_t *anchor, const struct index *index,
                         uint64_t number);

/* Widths in bits of the number of a star among neighbours, of a pair of steps within a cell, and of
 * the lower part of a quad's number where so many share a cell (index-build/FORMAT.md). */
int index_near_width(uint32_t stars);
int index_pair_width(int steps);
int index_low_width(const struct index *index, uint32_t count);

/* The n-th nearest brighter star of a star, n from 1 to neighbours; INDEX_NO_STAR for none. */
uint32_t index_neighbour(const struct index *index, uint32_t star, int n);

/* The catalogue's own number of a star, 0 for none. */
uint64_t index_number(const struct index *index, uint32_t star);

/* The inverse of index_star_vector. */
void index_set_place(int32_t place[2], const double v[3]);

/* How far a cell's centre may be from where its record has it, radians. */
#define INDEX_CENTRE_ERROR 7e-5
/* Largest distance from a cell's centre to its edge at a level, radians. */
double index_cell_radius(int level);

/* Calls visit for each run of consecutive stars of the levels in cells that touch the disc. A run
 * may hold stars outside the disc: the caller looks at each. radius in radians, up to pi. */
void index_visit_levels(const struct index *index, int from, int level, const double centre[3],
                        double radius, void (*visit)(uint32_t first, uint32_t end, void *context),
                        void *context);

/* The brightest stars within radius (radians) of a direction, brightest first, at most limit of
 * them, none fainter than mag (thousandths). out takes limit numbers. Returns how many. */
int index_brightest(uint32_t *out, int limit, const struct index *index, const double centre[3],
                    double radius, int mag);

/* In the innermost loops, and so written out here. */

/* Unit vector of a star. Inverse: index_set_place. */
static inline void index_star_vector(double v[3], const struct index_star *star)
{
    const double place[2] = {star->place[0] * (1.0 / INT32_MAX),
                             star->place[1] * (1.0 / INT32_MAX)};
    octahedron_unfold(v, place);
}

/* At which byte of quad the quads of a shape cell begin; they end where those of the next do. cell:
 * 0 to the number of cells. */
static inline uint64_t index_block_start(const struct index *index, uint32_t cell)
{
    return packed_get(index->block, (uint64_t)cell * (uint64_t)index->block_width,
                      index->block_width);
}

/* Where quad i of a block lies within the cell: steps of axes 0 and 1, as 0 times the grid's steps
 * and 1, in pair[0]; of axes 2 and 3 in pair[1]. May be more than there are, in a damaged file. */
static inline void index_block_pairs(uint32_t pair[2], const struct index_block *block, uint32_t i)
{
    uint64_t record =
        packed_get(block->record, (uint64_t)i * (uint64_t)block->width, 2 * block->pair_width);
    pair[0] = (uint32_t)record & ((1U << block->pair_width) - 1);
    pair[1] = (uint32_t)(record >> block->pair_width);
}

#endif
