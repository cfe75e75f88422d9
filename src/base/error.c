#include "base/error.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

int error_set(struct error *err, int code, const char *format, ...)
{
    if (!err) {
        return code;
    }
    va_list args;
    va_start(args, format);
    vsnprintf(err->text, sizeof err->text, format, args);
    va_end(args);
    err->code = code;
    return code;
}

int error_memory(struct error *err)
{
    return error_set(err, ERROR_MEMORY, "out of memory");
}

int error_prefix(struct error *err, const char *prefix)
{
    char text[sizeof err->text];
    snprintf(text, sizeof text, "%s", err->text);
    snprintf(err->text, sizeof err->text, "%.200s: %.290s", prefix, text);
    return err->code;
}
