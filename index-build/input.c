#include "input.h"

#include "base/file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

enum { CHUNK = 1 << 20, LEAST_BUFFER = 1 << 13, MOST_BUFFER = 1 << 18 };

static int refuse_damage(const struct input *input, struct error *err)
{
    int code = Z_OK;
    const char *cause = gzerror(input->stream, &code);
    if (code == Z_BUF_ERROR) {
        return error_set(err, ERROR_INPUT, "%s: the compressed file is cut short", input->name);
    }
    if (code == Z_MEM_ERROR) {
        return error_memory(err);
    }
    return error_set(err, ERROR_INPUT, "%s: cannot be read (%s)", input->name,
                     code == Z_ERRNO ? strerror(errno) : cause);
}

int input_read(struct input *input, void *bytes, size_t room, size_t *got, struct error *err)
{
    unsigned char *out = bytes;
    for (*got = 0; *got < room;) {
        size_t left = room - *got;
        int count = gzread(input->stream, out + *got, left > CHUNK ? CHUNK : (unsigned)left);
        if (count < 0) {
            return refuse_damage(input, err);
        }
        *got += (size_t)count;
        if (count == 0) {
            int code = Z_OK;
            gzerror(input->stream, &code); /* a file cut short ends like any other */
            return code == Z_OK ? 0 : refuse_damage(input, err);
        }
    }
    return 0;
}

static int refuse_packers(const struct input *input, struct error *err)
{
    static const struct {
        const char *mark;
        size_t length;
        const char *name;
    } packers[] = {
        {"BZh", 3, "bzip2"},
        {"PK\3\4", 4, "zip"},
        {"\xfd"
         "7zXZ",
         5, "xz"},
        {"\x28\xb5\x2f\xfd", 4, "zstd"},
        {"\x1f\x9d", 2, "compress"},
        {"7z\xbc\xaf", 4, "7z"},
    };
    for (size_t i = 0; i < sizeof packers / sizeof *packers; i++) {
        if (input->head_size >= packers[i].length &&
            memcmp(input->head, packers[i].mark, packers[i].length) == 0) {
            return error_set(err, ERROR_INPUT,
                             "%s: is packed with %s; unpack it first (only gzip is read as it is)",
                             input->name, packers[i].name);
        }
    }
    return 0;
}

int input_open(struct input *input, const char *name, struct error *err)
{
    struct input made = {.name = name};
    FILE *file = file_stream_open(name, &made.size, err);
    if (!file) {
        return ERROR_INPUT;
    }
    int descriptor = dup(fileno(file));
    fclose(file);
    made.stream = descriptor >= 0 ? gzdopen(descriptor, "rb") : NULL;
    if (!made.stream) {
        if (descriptor >= 0) {
            close(descriptor);
        }
        return error_memory(err);
    }
    gzbuffer(made.stream, made.size < LEAST_BUFFER  ? LEAST_BUFFER
                          : made.size < MOST_BUFFER ? (unsigned)made.size
                                                    : MOST_BUFFER);
    made.packed = !gzdirect(made.stream);
    int code = input_read(&made, made.head, sizeof made.head, &made.head_size, err);
    if (!code && gzrewind(made.stream) != 0) {
        code = refuse_damage(&made, err);
    }
    code = code ? code : refuse_packers(&made, err);
    if (code) {
        input_close(&made);
        return code;
    }
    *input = made;
    return 0;
}

double input_share(const struct input *input)
{
    double share = input->size ? (double)gzoffset(input->stream) / (double)input->size : 1;
    return share < 0 ? 0 : share > 1 ? 1 : share;
}

static bool write_all(int descriptor, const unsigned char *bytes, size_t size)
{
    while (size > 0) {
        ssize_t count = write(descriptor, bytes, size);
        if (count < 0 && errno != EINTR) {
            return false;
        }
        bytes += count > 0 ? count : 0;
        size -= count > 0 ? (size_t)count : 0;
    }
    return true;
}

static int refuse_room(const struct input *input, struct error *err)
{
    return error_set(err, ERROR_OUTPUT, "%s: no room to unpack it in /tmp (%s)", input->name,
                     strerror(errno));
}

static int copy_out(struct input *input, int descriptor, struct error *err)
{
    unsigned char *bytes = malloc(CHUNK);
    int code = bytes ? 0 : error_memory(err);
    for (size_t got = CHUNK; got == CHUNK && !code;) {
        code = input_read(input, bytes, CHUNK, &got, err);
        if (!code && !write_all(descriptor, bytes, got)) {
            code = refuse_room(input, err);
        }
    }
    free(bytes);
    return code;
}

int input_unpack(struct input *input, int *descriptor, char path[32], struct error *err)
{
    char name[] = "/tmp/alidade-unpacked-XXXXXX";
    int file = mkstemp(name);
    if (file < 0) {
        return refuse_room(input, err);
    }
    unlink(name); /* so that nothing stays behind, whatever happens */
    int code = copy_out(input, file, err);
    if (code) {
        close(file);
        return code;
    }
    snprintf(path, 32, "/dev/fd/%d", file);
    *descriptor = file;
    return 0;
}

void input_close(struct input *input)
{
    if (input->stream) {
        gzclose(input->stream);
    }
    input->stream = NULL;
}
