#include "base/error.h"

#include <errno.h>
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
    err->cause = code == ERROR_MEMORY ? CAUSE_MEMORY : CAUSE_CONTENT;
    err->remedy = REMEDY_NONE;
    return code;
}

int error_because(struct error *err, int code, enum error_cause cause)
{
    if (err) {
        err->cause = cause;
    }
    return code;
}

int error_remedied(struct error *err, int code, enum error_remedy remedy)
{
    if (err) {
        err->remedy = remedy;
    }
    return code;
}

enum error_cause error_cause_of(int number)
{
    switch (number) {
    case EACCES:
    case EPERM:
        return CAUSE_PERMISSION;
    case ENOENT:
    case ENOTDIR:
    case ENODEV:
    case ENXIO:
    case ESTALE:
        return CAUSE_VANISHED;
    case EIO:
    case ETIMEDOUT:
        return CAUSE_DEVICE;
    case ENOMEM:
    case EMFILE:
    case ENFILE:
        return CAUSE_MEMORY;
    default:
        return CAUSE_CONTENT;
    }
}

static const char *const cause_keys[ERROR_CAUSES] = {
    [CAUSE_CONTENT] = "content",   [CAUSE_SHORT] = "short",   [CAUSE_PERMISSION] = "permission",
    [CAUSE_VANISHED] = "vanished", [CAUSE_DEVICE] = "device", [CAUSE_MEMORY] = "memory",
};

const char *error_cause_key(enum error_cause cause)
{
    return cause_keys[cause];
}

enum error_cause error_cause_read(const char *key)
{
    int cause = ERROR_CAUSES - 1;
    while (cause > CAUSE_CONTENT && !(key && strcmp(key, cause_keys[cause]) == 0)) {
        cause--;
    }
    return (enum error_cause)cause;
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
