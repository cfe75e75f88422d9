/* Where the library of TIFF files is built: for WebAssembly, 32 bits. */
#include "tiffconf.h"

#define CHUNKY_STRIP_READ_SUPPORT 1
#define HAVE_ASSERT_H 1
#define HAVE_FCNTL_H 1
#define HAVE_FSEEKO 1
#define HAVE_GETOPT 1
#define HAVE_MMAP 1
#define HAVE_STRINGS_H 1
#define HAVE_SYS_TYPES_H 1
#define HAVE_UNISTD_H 1
#define SIZEOF_SIZE_T 4
#define STRIP_SIZE_DEFAULT 8192
#define TIFF_MAX_DIR_COUNT 1048576
#define TIFF_SIZE_FORMAT "zu"
#define TIFF_SSIZE_FORMAT PRId32
