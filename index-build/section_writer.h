/* index-build/section_writer.h: writes an index file section by section, as they come. */
#ifndef ALIDADE_INDEX_BUILD_SECTION_WRITER_H
#define ALIDADE_INDEX_BUILD_SECTION_WRITER_H

#include "match/index_layout.h"

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Starts with the stream alone, which must be at its beginning and allow to go back there. A failed
 * write leaves the stream's error mark. */
struct section_writer {
    FILE *out;
    uint64_t place; /* bytes so far */
    uint32_t checksum;
    uint64_t offset[LAYOUT_SECTION_COUNT];
    uint64_t length[LAYOUT_SECTION_COUNT], count[LAYOUT_SECTION_COUNT];
    uint32_t checksums[LAYOUT_SECTION_COUNT];
};

/* Section number i begins; what is put from then on is its. count: of its records. */
void section_begin(struct section_writer *writer, int section, uint64_t count);
void section_put(struct section_writer *writer, const void *bytes, size_t size);
/* It ends here. */
void section_end(struct section_writer *writer, int section);

/* Goes back and writes the header, the facts of which are in header, and the section table. */
void section_write_header(struct section_writer *writer, unsigned char header[LAYOUT_HEADER_END]);

/* Whole numbers, little-endian. */
void section_u32(unsigned char *p, uint32_t value);
void section_u64(unsigned char *p, uint64_t value);

#endif
