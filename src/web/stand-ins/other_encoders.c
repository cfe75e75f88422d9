/* What libraries would write and the program does not: JPEG files that are progressive or coded
 * arithmetically, changed directories of TIFF files. */
#include <stdio.h>

#include <jpeglib.h>
#include <stdlib.h>
#include <tiffio.h>

void jinit_phuff_encoder(j_compress_ptr info);
void jinit_arith_encoder(j_compress_ptr info);
int _TIFFRewriteField(TIFF *tiff, uint16_t tag, TIFFDataType type, tmsize_t count, void *data);

void jinit_phuff_encoder(j_compress_ptr info)
{
    (void)info;
    abort();
}

void jinit_arith_encoder(j_compress_ptr info)
{
    (void)info;
    abort();
}

int TIFFRewriteDirectory(TIFF *tiff)
{
    (void)tiff;
    return 0;
}

int _TIFFRewriteField(TIFF *tiff, uint16_t tag, TIFFDataType type, tmsize_t count, void *data)
{
    (void)tiff;
    (void)tag;
    (void)type;
    (void)count;
    (void)data;
    return 0;
}
