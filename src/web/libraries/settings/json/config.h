/* Where the library of JSON is built: what its own build would find out, for WebAssembly. */
#include "json_config.h"

#define HAVE_ENDIAN_H
#define HAVE_FCNTL_H
#define HAVE_INTTYPES_H
#define HAVE_LIMITS_H
#define HAVE_LOCALE_H
#define HAVE_MEMORY_H
#define HAVE_STDARG_H
#define HAVE_STDINT_H
#define HAVE_STDLIB_H
#define HAVE_STRINGS_H
#define HAVE_STRING_H
#define HAVE_SYS_PARAM_H 1
#define HAVE_SYS_STAT_H
#define HAVE_SYS_TYPES_H 1
#define HAVE_UNISTD_H 1
#define HAVE_DECL_INFINITY 1
#define HAVE_DECL_ISINF 1
#define HAVE_DECL_ISNAN 1
#define HAVE_DECL_NAN 1
#define HAVE_OPEN
#define HAVE_REALLOC
#define HAVE_SETLOCALE
#define HAVE_SNPRINTF
#define HAVE_STRCASECMP 1
#define HAVE_STRDUP
#define HAVE_STRERROR
#define HAVE_STRNCASECMP 1
#define HAVE_USELOCALE
#define HAVE_VASPRINTF
#define HAVE_VPRINTF
#define HAVE_VSNPRINTF
#define HAVE_STRTOLL
#define HAVE_STRTOULL
#define SIZEOF_INT 4
#define SIZEOF_INT64_T 8
#define SIZEOF_LONG 4
#define SIZEOF_LONG_LONG 8
#define SIZEOF_SIZE_T 4
#define SIZEOF_SSIZE_T 4
#define STDC_HEADERS
#define PACKAGE_VERSION "0.16"
