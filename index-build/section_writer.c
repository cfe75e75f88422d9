#include "section_writer.h"

#include <string.h>
#include <zlib.h>

void section_u32(unsigned char *p, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        p[i] = (unsigned char)(value >> (8 * i));
    }
}

void section_u64(unsigned char *p, uint64_t value)
{
    section_u32(p, (uint32_t)value);
    section_u32(p + 4, (uint32_t)(value >> 32));
}

/* Sections begin at multiples of 64 bytes; the first behind the header. */
static void fill_gap(struct section_writer *writer, uint64_t least)
{
    uint64_t wanted = writer->place < least ? least : writer->place;
    for (wanted = (wanted + 63) / 64 * 64; writer->place < wanted; writer->place++) {
        fputc(0, writer->out);
    }
}

void section_begin(struct section_writer *writer, int section, uint64_t count)
{
    fill_gap(writer, LAYOUT_HEADER_END);
    writer->offset[section] = writer->place;
    writer->count[section] = count;
    writer->checksum = 0;
}

void section_put(struct section_writer *writer, const void *bytes, size_t size)
{
    fwrite(bytes, 1, size, writer->out);
    writer->checksum = (uint32_t)crc32_z(writer->checksum, bytes, size);
    writer->place += size;
}

void section_end(struct section_writer *writer, int section)
{
    writer->length[section] = writer->place - writer->offset[section];
    writer->checksums[section] = writer->checksum;
}

void section_write_header(struct section_writer *writer, unsigned char header[LAYOUT_HEADER_END])
{
    fill_gap(writer, 0);
    section_u64(header + LAYOUT_SIZE, writer->place);
    for (int i = 0; i < LAYOUT_SECTION_COUNT; i++) {
        unsigned char *row = header + LAYOUT_TABLE + i * LAYOUT_ROW;
        memcpy(row, layout_section_name[i], 4);
        section_u32(row + 4, writer->checksums[i]);
        section_u64(row + 8, writer->offset[i]);
        section_u64(row + 16, writer->length[i]);
        section_u64(row + 24, writer->count[i]);
    }
    section_u32(header + LAYOUT_CHECKSUM, index_layout_checksum(header));
    if (fseeko(writer->out, 0, SEEK_SET) == 0) {
        fwrite(header, 1, LAYOUT_HEADER_END, writer->out);
        fseeko(writer->out, (off_t)writer->place, SEEK_SET);
    }
}
