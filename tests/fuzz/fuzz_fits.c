#include "fuzz_cards.h"
#include "fuzz_reader.h"
#include "image/read_fits.h"

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static const char *const keys[] = {"NAXIS",   "NAXIS1",  "NAXIS2",  "NAXIS3",   "BITPIX",
                                       "PCOUNT",  "GCOUNT",  "TFIELDS", "TFORM1",   "TTYPE1",
                                       "ZIMAGE",  "ZCMPTYPE", "ZBITPIX", "ZNAXIS",  "ZNAXIS1",
                                       "ZNAXIS2", "ZTILE1",  "ZTILE2",  "ZNAME1",   "ZVAL1",
                                       "ZBLANK",  "ZQUANTIZ", "ZDITHER0", "ZSIMPLE", "THEAP",
                                       "BZERO",   "BSCALE",  "BLANK",   "ROWORDER", "BAYERPAT",
                                       "XTENSION", "EXTEND", "END",     "SIMPLE"};
    return fuzz_change_card(data, size, most, seed, keys, sizeof keys / sizeof *keys);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    fuzz_run(read_fits, data, size);
    return 0;
}
