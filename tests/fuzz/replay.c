/* Runs a fuzz target on the files named, where no fuzzer is linked in. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int replay(const char *name)
{
    FILE *file = fopen(name, "rb");
    unsigned char *bytes = malloc(1 << 20);
    if (!file || !bytes) {
        fprintf(stderr, "%s: cannot be read\n", name);
        free(bytes);
        if (file) {
            fclose(file);
        }
        return 1;
    }
    size_t size = fread(bytes, 1, 1 << 20, file);
    fclose(file);
    LLVMFuzzerTestOneInput(bytes, size);
    free(bytes);
    return 0;
}

int main(int argc, char **argv)
{
    int failed = argc < 2;
    for (int i = 1; i < argc; i++) {
        failed += replay(argv[i]);
    }
    printf("%d inputs replayed\n", argc - 1);
    return failed ? 1 : 0;
}
