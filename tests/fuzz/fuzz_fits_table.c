/* A catalogue as a FITS table. */
#include "fuzz_cards.h"
#include "fuzz_catalogue.h"

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static const char *const keys[] = {"NAXIS",  "NAXIS1", "NAXIS2", "TFIELDS", "PCOUNT", "GCOUNT",
                                       "TFORM1", "TFORM2", "TFORM3", "TTYPE1",  "TUNIT1", "TNULL1",
                                       "TSCAL1", "TZERO1", "TBCOL1", "TDIM1",   "THEAP",  "EXTNAME",
                                       "BITPIX", "SIMPLE", "END",    "EPOCH",   "EQUINOX"};
    return fuzz_change_card(data, size, most, seed, keys, sizeof keys / sizeof *keys);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(data, size);
    return 0;
}
