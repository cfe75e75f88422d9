/* A table of fixed width with its byte-by-byte description on top. */
#include "description.h"
#include "fuzz_catalogue.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct column_list list = {.table = "tab1.dat"};
    struct error err = {0};
    char *text = malloc(size + 1);
    if (text) {
        memcpy(text, data, size);
        int code = description_read(&list, NULL, text, size, "ReadMe", "tab1.dat", &err);
        if (code != err.code || (!code && (list.count < 1 || list.column[0].first < 0))) {
            abort();
        }
    }
    free(text);
    column_list_free(&list);
    fuzz_run(data, size);
    return 0;
}
