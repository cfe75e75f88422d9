/* Any bytes as the plan of a night: read, or refused with a sentence; what was read must serve. */
#include "fuzz_file.h"
#include "fuzz_words.h"
#include "plan/night_plan.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static const struct fuzz_words words = {
        {"plan", "target", "with", "middle", "camera", "exposure_s", "frames", "batch", "lead",
         "hours", "up_deg", "format", "2", "field_width_deg", "scale_arcsec", "begin", "end"},
        17};
    return fuzz_change_words(data, size, most, seed, &words);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct night_plan plan;
    struct error err = {0};
    if (size == 0 || !fuzz_write_file(data, size)) {
        return 0;
    }
    int code = night_plan_read(&plan, fuzz_name, &err);
    if (code != err.code || (code && err.text[0] == '\0')) {
        abort();
    }
    if (!code) {
        const struct utc noon = {2461096, 0};
        if (night_plan_batch(&plan, night_plan_every_s(&plan)) < 1 ||
            night_plan_batch(&plan, 1e-9) < 1 || !night_plan_place_in_hours(&plan, noon)) {
            abort();
        }
    }
    return 0;
}
