/* Any bytes as a settings file: reading must return, with settings that can be asked, or with a
 * sentence; a file that was good must be so after a value was put into it. */
#include "fuzz_words.h"
#include "rig/rig.h"
#include "rig/rig_in_use.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { MOST_INPUT = 16384 };

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static const char *const others[] = {"[body Otter]",  "[lens Long]",  "[place Yard]",
                                         "[head Ball]",   "[defaults]",   "6000x4000",
                                         "22.3x14.9",     "0:12 S:8 270:-", "Europe/Berlin",
                                         "1/4000 to 30",  "+05:45",       "[profile Long 85]",
                                         "70-200",        "500 rule",     "[body Otter]\n\n"};
    static struct fuzz_words words;
    struct rig_key_words key;
    if (words.count == 0) {
        for (int i = 0; rig_key_words(&key, i); i++) {
            fuzz_words_add(&words, key.key);
        }
        for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
            fuzz_words_add(&words, others[i]);
        }
    }
    return fuzz_change_words(data, size, most, seed, &words);
}

static void use(const struct rig_file *file)
{
    struct rig rig = {0};
    struct rig_choice choice = {0};
    struct lens_profile profile;
    struct error err = {0};
    double pixel_um;
    bool resized;
    if (rig_choose(&rig, file, &choice, &err) != err.code) {
        abort();
    }
    for (int i = 0; i < file->bodies; i++) {
        rig_pixel_of_frame(&pixel_um, &resized, &file->body[i], 3000, 2000);
        rig_body_of_model(file, file->body[i].model);
    }
    for (int i = 0; i < file->lenses; i++) {
        rig_lens_profile(&profile, file, &file->lens[i], 85);
    }
    for (int i = 0; i < file->places; i++) {
        volatile double altitude = skyline_altitude(&file->place[i].skyline, 359.99);
        (void)altitude;
    }
}

/* What is taught is put into the file as it is. */
static void edit(const char *text, size_t size)
{
    static struct rig_file again;
    const struct rig_value values[] = {{"lean east", "0.25"}, {"lean north", "-0.5"}};
    struct error err = {0};
    char *out = NULL;
    size_t length = 0;
    if (rig_edit(&out, &length, text, size, "head Ball", values, 2, &err) == 0) {
        memset(&again, 0, sizeof again);
        rig_parse(&again, out, length, "edited", &err);
        bool missing = err.code == 0;
        for (int i = 0; i < again.heads; i++) {
            missing = missing && again.head[i].lean_east_deg != 0.25;
        }
        if (missing) {
            abort();
        }
    }
    free(out);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct rig_file file;
    struct error err = {0};
    char *text = size <= MOST_INPUT ? malloc(size + 1) : NULL;
    if (!text) {
        return 0;
    }
    memcpy(text, data, size);
    memset(&file, 0, sizeof file);
    rig_recognise(text, size);
    int code = rig_parse(&file, text, size, "input", &err);
    if (code != err.code || (code && err.text[0] == '\0')) {
        abort();
    }
    if (!code) {
        use(&file);
        edit(text, size);
    }
    free(text);
    return 0;
}
