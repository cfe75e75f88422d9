/* A catalogue as text whose cells are parted by a mark or by blanks. */
#include "fuzz_catalogue.h"
#include "fuzz_words.h"

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static const struct fuzz_words words = {
        {"ra", "dec", "mag", "RAJ2000", "DEJ2000", "Vmag", "_RA", "ra_deg", "dec_deg", "hip", "b_v",
         "pmRA", "pmDE", "ra (h)", "12:34:56.7", "-05 12 13", "12h34m56s", "\t", ",", "|", ";", "#",
         "\n", "\r\n", "\"", "source_id", "phot_g_mean_mag", "epoch", "2016.0"},
        29};
    return fuzz_change_words(data, size, most, seed, &words);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(data, size);
    return 0;
}
