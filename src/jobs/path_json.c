#include "jobs/path_json.h"

void path_json_put(struct json *json, const struct aim_answer *answer,
                   const struct aim_target *target)
{
    struct advice_step step[ADVICE_STEPS];
    int steps =
        answer->cadence_s > 0 ? advice_path(step, &answer->stand, target, answer->cadence_s) : 0;
    schema_open(json, "path");
    for (int i = 0; i < steps; i++) {
        schema_open(json, NULL);
        schema_put_integer(json, "frames", step[i].frames);
        schema_put_number(json, "x", step[i].x);
        schema_put_number(json, "y", step[i].y);
        schema_close(json);
    }
    schema_close(json);
}
