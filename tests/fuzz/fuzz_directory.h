/* tests/fuzz/fuzz_directory.h: changes to entries of TIFF directories (TIFF 6.0, section 2), which
 * EXIF blocks, DNG and many other raw files are made of. */
#ifndef ALIDADE_TESTS_FUZZ_DIRECTORY_H
#define ALIDADE_TESTS_FUZZ_DIRECTORY_H

#include "fuzz_change.h"

enum { FUZZ_ENTRY = 12, FUZZ_ENTRIES_MOST = 256, FUZZ_DIRECTORIES_MOST = 16 };

struct fuzz_directories {
    const uint8_t *tiff;
    size_t size;
    bool big_endian;
    size_t entry[FUZZ_ENTRIES_MOST]; /* where each begins */
    size_t entries;
};

static inline size_t fuzz_number(const struct fuzz_directories *all, size_t at, size_t bytes)
{
    size_t value = 0;
    for (size_t i = 0; i < bytes && at + bytes <= all->size; i++) {
        value = value << 8 | all->tiff[at + (all->big_endian ? i : bytes - 1 - i)];
    }
    return value;
}

/* Whether a tag's value is where a directory begins: SubIFDs, EXIF, GPS, interoperability. */
static inline bool fuzz_leads_on(size_t tag)
{
    return tag == 330 || tag == 34665 || tag == 34853 || tag == 40965;
}

static inline void fuzz_find_entries(struct fuzz_directories *all)
{
    size_t waiting[FUZZ_DIRECTORIES_MOST] = {fuzz_number(all, 4, 4)}, known = 1;
    for (size_t i = 0; i < known; i++) {
        size_t at = waiting[i], count = at + 2 < all->size ? fuzz_number(all, at, 2) : 0;
        size_t entry = at + 2;
        for (; count > 0 && entry + FUZZ_ENTRY <= all->size; count--, entry += FUZZ_ENTRY) {
            if (all->entries < FUZZ_ENTRIES_MOST) {
                all->entry[all->entries++] = entry;
            }
            if (fuzz_leads_on(fuzz_number(all, entry, 2)) && known < FUZZ_DIRECTORIES_MOST) {
                waiting[known++] = fuzz_number(all, entry + 8, 4);
            }
        }
        if (count == 0 && entry + 4 <= all->size && known < FUZZ_DIRECTORIES_MOST) {
            waiting[known++] = fuzz_number(all, entry, 4);
        }
    }
}

static inline void fuzz_put(struct fuzz_input *in, bool big_endian, size_t at, size_t bytes,
                            size_t value)
{
    for (size_t i = 0; i < bytes && at + bytes <= in->size; i++) {
        in->data[at + i] = (uint8_t)(value >> 8 * (big_endian ? bytes - 1 - i : i));
    }
}

static inline size_t fuzz_odd_number(struct fuzz_input *in)
{
    static const uint32_t odd[] = {0,      1,          2,          3,          8,         12,
                                   13,     255,        4096,       0x7fff,     0xffff,    0x10000,
                                   100000, 0x7fffffff, 0x80000000, 0xfffffff0, 0xffffffff};
    return fuzz_below(in, 4) ? odd[fuzz_below(in, sizeof odd / sizeof *odd)]
                             : fuzz_below(in, in->size);
}

/* Changes an entry of the TIFF file that begins at offset start of the input; any bytes where it
 * has none. */
static inline size_t fuzz_change_directory(uint8_t *data, size_t size, size_t most,
                                           unsigned int seed, size_t start)
{
    struct fuzz_input in = {data, size, most, {seed}};
    struct fuzz_directories all = {.tiff = data + start, .size = size > start ? size - start : 0};
    if (all.size < 8 || fuzz_below(&in, 3) == 0) {
        return LLVMFuzzerMutate(data, size, most);
    }
    all.big_endian = all.tiff[0] == 'M';
    fuzz_find_entries(&all);
    if (all.entries == 0) {
        return LLVMFuzzerMutate(data, size, most);
    }
    size_t at = start + all.entry[fuzz_below(&in, all.entries)];
    size_t other = start + all.entry[fuzz_below(&in, all.entries)];
    switch (fuzz_below(&in, 6)) {
    case 0: /* the tag of another one */
        memmove(data + at, data + other, 2);
        break;
    case 1:
        fuzz_put(&in, all.big_endian, at + 2, 2, 1 + fuzz_below(&in, 19));
        break;
    case 2:
        fuzz_put(&in, all.big_endian, at + 4, 4, fuzz_odd_number(&in));
        break;
    case 3:
        memmove(data + at, data + other, FUZZ_ENTRY);
        break;
    default:
        fuzz_put(&in, all.big_endian, at + 8, fuzz_below(&in, 2) ? 2 : 4, fuzz_odd_number(&in));
    }
    return size;
}

#endif
