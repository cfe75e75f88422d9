#include "cli/learn_head_report.h"

#include "base/text.h"
#include "base/units.h"
#include "cli/aim_schema.h"
#include "cli/parts_schema.h"
#include "tripod/advice.h"

#include <math.h>

static void write_text(FILE *out, const struct learned_head *learned,
                       const struct clock_fault *fault)
{
    const struct head *head = &learned->head;
    double lean = hypot(head->lean_east_deg, head->lean_north_deg);
    double to = atan2(head->lean_east_deg, head->lean_north_deg) * DEG_PER_RAD;
    fprintf(out, "%s: ", learned->name);
    if (lean < learned->error_deg) {
        fprintf(out, "the pan axis is upright, within the error");
    } else {
        fprintf(out, "the pan axis leans %.2f° to the %s", lean, advice_direction_word(to));
    }
    if (learned->lesson.which == HEAD_TILT) {
        fprintf(out, ", the tilt axis is %.2f° askew", text_rounded(head->skew_deg, 2));
    }
    fprintf(out, "; known to %.2g°\n", learned->error_deg);
    fprintf(out, "  from     a turn of %.1f°; a wider one is more accurate\n",
            learned->lesson.angle_deg);
    fprintf(out, "  so       a move of 5° lands within %.2g° of where it should\n",
            learned->error_deg * 5 * RAD_PER_DEG);
    if (fault) {
        fprintf(out, "  clock    if the head was level, it is %s by %.0f s (give or take %.0f s)\n",
                fault->fast_s < 0 ? "slow" : "fast", fabs(fault->fast_s), fault->error_s);
    }
    fprintf(out, "  kept     in %s; the lean holds until the tripod is moved\n", learned->file);
}

static int write_json(FILE *out, const struct learned_head *learned,
                      const struct clock_fault *fault, struct error *err)
{
    struct json json = {0};
    schema_begin(&json, &learned_head_schema);
    schema_put_format(&json);
    schema_open(&json, "head");
    schema_put_text(&json, "name", learned->name);
    schema_put_text(&json, "learned", learned->lesson.which == HEAD_PAN ? "pan" : "tilt");
    schema_put_number(&json, "turned_deg", learned->lesson.angle_deg);
    parts_put_head(&json, &learned->head);
    schema_put_number(&json, "error_deg", learned->error_deg);
    if (fault) {
        parts_put_clock(&json, fault);
    }
    schema_put_text(&json, "file", learned->file);
    schema_close(&json);
    return schema_end_line(&json, out, err);
}

int learn_head_report(FILE *out, const struct learned_head *learned, bool as_json,
                      struct error *err)
{
    const struct clock_fault *fault = learned->has_clock ? &learned->clock : NULL;
    if (as_json) {
        return write_json(out, learned, fault, err);
    }
    write_text(out, learned, fault);
    return 0;
}
