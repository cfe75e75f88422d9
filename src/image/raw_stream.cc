#include "image/raw_stream.h"

#include <libraw/libraw.h>

/* The stream is a C++ object even where the rest of LibRaw has a C face. */
extern "C" size_t raw_stream_read(void *stream, unsigned char *bytes, size_t size)
{
    try {
        int got = static_cast<LibRaw_abstract_datastream *>(stream)->read(bytes, 1, size);
        return got > 0 ? static_cast<size_t>(got) : 0;
    } catch (...) {
        return 0;
    }
}
