/* What the library of JSON tells its users of the system: WebAssembly has inttypes.h. */
#define JSON_C_HAVE_INTTYPES_H 1
