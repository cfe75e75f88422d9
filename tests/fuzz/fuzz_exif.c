/* Any bytes as an EXIF block, the maker's notes within it included. */
#include "fuzz_directory.h"
#include "image/exif.h"
#include "image/facts_words.h"
#include "image/scale_hint.h"

#include <math.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { MOST_INPUT = 65536, MARK = 6 };

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    return fuzz_change_directory(data, size, most, seed, 0);
}

static void use(const struct frame_facts *facts)
{
    struct scale_hint hint;
    char words[400];
    const struct fact *all[] = {&facts->focal_mm, &facts->exposure_s, &facts->iso,
                                &facts->f_number, &facts->pixel_um,   &facts->latitude_deg};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        if (all[i]->origin != FACT_UNKNOWN && !isfinite(all[i]->value)) {
            abort();
        }
    }
    if (!memchr(facts->camera, 0, sizeof facts->camera) ||
        !memchr(facts->lens, 0, sizeof facts->lens)) {
        abort();
    }
    if (scale_hint_find(&hint, facts, 6000, 4000)) {
        scale_hint_write(words, sizeof words, &hint);
    }
    facts_write_time(words, sizeof words, facts);
    facts_write_camera(words, sizeof words, facts);
    facts_write_place(words, sizeof words, facts);
}

/* The input is what stands behind the mark that every block begins with. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    uint8_t *block = size <= MOST_INPUT ? malloc(MARK + size) : NULL;
    struct frame_facts facts = {0};
    if (block) {
        memcpy(block, "Exif\0\0", MARK);
        memcpy(block + MARK, data, size);
        int orientation = exif_read(&facts, block, MARK + size, 6000, 4000);
        if (orientation < 1 || orientation > 8) {
            abort();
        }
        use(&facts);
    }
    free(block);
    return 0;
}
