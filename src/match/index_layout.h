/* match/index_layout.h: places in the header of an index file (index-build/FORMAT.md), shared by
 * its reader, checker and writer. */
#ifndef ALIDADE_MATCH_INDEX_LAYOUT_H
#define ALIDADE_MATCH_INDEX_LAYOUT_H

#include <stdint.h>

#define LAYOUT_MAGIC "ALIDX\r\n\x1a"

enum {
    LAYOUT_ORDER = 8,
    LAYOUT_VERSION = 12,
    LAYOUT_SIZE = 16,
    LAYOUT_SECTIONS = 24,
    LAYOUT_CHECKSUM = 28,
    LAYOUT_STARS = 32,
    LAYOUT_QUADS = 36,
    LAYOUT_LEVELS = 40,
    LAYOUT_NEIGHBOURS = 44,
    LAYOUT_EPOCH = 48,
    LAYOUT_MAGNITUDES = 56,
    LAYOUT_ID_WIDTH = 60,
    LAYOUT_NAME = 64,
    LAYOUT_SOURCE = 128,
    LAYOUT_PARTS = 256,
    LAYOUT_STEPS = 260,
    LAYOUT_LEVEL = 264, /* INDEX_MAX_LEVELS + 1 numbers */
    LAYOUT_TABLE = 384,
    LAYOUT_ROW = 32,
    LAYOUT_SECTION_COUNT = 6,
    LAYOUT_HEADER_END = LAYOUT_TABLE + LAYOUT_ROW * LAYOUT_SECTION_COUNT
};

/* In the order of the section table and of the file. */
enum { LAYOUT_IDNO, LAYOUT_STAR, LAYOUT_CELL, LAYOUT_NEAR, LAYOUT_QUAD, LAYOUT_CODE };
static const char layout_section_name[LAYOUT_SECTION_COUNT][5] = {"IDNO", "STAR", "CELL",
                                                                  "NEAR", "QUAD", "CODE"};

/* Checksum of a header and section table, its own field taken as 0; bytes holds
 * LAYOUT_HEADER_END of them. */
uint32_t index_layout_checksum(const unsigned char *bytes);

#endif
