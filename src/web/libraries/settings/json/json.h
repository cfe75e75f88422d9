/* All of the library of JSON. */
#ifndef _json_h_
#define _json_h_

#ifdef __cplusplus
extern "C" {
#endif
#include "arraylist.h"
#include "debug.h"
#include "json_c_version.h"
#include "json_object.h"
#include "json_object_iterator.h"
#include "json_pointer.h"
#include "json_tokener.h"
#include "json_util.h"
#include "linkhash.h"
#ifdef __cplusplus
}
#endif

#endif
