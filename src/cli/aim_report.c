#include "cli/aim_report.h"

static void write_details(FILE *out, const struct aim *aim)
{
    if (aim->has_pixel) {
        fprintf(out, "  it is at pixel (%.0f, %.0f), ", aim->x, aim->y);
    } else {
        fprintf(out, "  it is ");
    }
    fprintf(out, "%.3f° from the middle at position angle %.1f°\n", aim->separation_deg,
            aim->position_angle_deg);
}

void aim_report_text(FILE *out, const struct solved_frame *solved, const struct aim_target *target,
                     const struct aim *aim, bool verbose)
{
    char text[300], note[AIM_MOST_NOTES][AIM_NOTE_SIZE];
    aim_write_verdict(text, sizeof text, aim, target);
    fprintf(out, "%s: %s\n", solved->name, text);
    aim_write_move(text, sizeof text, aim);
    fprintf(out, "  %s\n", text);
    int notes = aim_write_notes(note, aim, target);
    for (int i = 0; i < notes; i++) {
        fprintf(out, "  %s\n", note[i]);
    }
    if (verbose) {
        write_details(out, aim);
    }
}

static void add_target(struct json *json, const struct aim_target *target)
{
    const struct sky_ellipse *shape = &target->shape;
    json_open(json, "target", '{');
    json_string(json, "name", target->name);
    json_number(json, "ra_deg", shape->ra_deg, 6);
    json_number(json, "dec_deg", shape->dec_deg, 6);
    if (shape->major_deg > 0) {
        json_number(json, "major_deg", 2 * shape->major_deg, 4);
        json_number(json, "minor_deg", 2 * shape->minor_deg, 4);
    }
    json_close(json, '}');
}

static void add_place(struct json *json, const struct aim *aim)
{
    static const char *const verdicts[] = {"no", "partly", "wholly"};
    static const char *const rooms[] = {"no", "perhaps", "yes"};
    json_string(json, "in_frame", verdicts[aim->verdict]);
    json_number(json, "share", aim->share, 4);
    json_bool(json, "margin_kept", aim->margin_kept);
    json_string(json, "fits", rooms[aim->room]);
    if (aim->has_pixel) {
        json_open(json, "pixel", '{');
        json_number(json, "x", aim->x, 2);
        json_number(json, "y", aim->y, 2);
        json_close(json, '}');
        json_open(json, "from_middle", '{');
        json_number(json, "right_widths", aim->right_part, 5);
        json_number(json, "up_heights", aim->up_part, 5);
        json_close(json, '}');
    }
}

static void add_turn(struct json *json, const struct aim *aim)
{
    json_open(json, "turn", '{');
    json_number(json, "right_deg", aim->right_deg, 5);
    json_number(json, "up_deg", aim->up_deg, 5);
    json_number(json, "right_fields", aim->right_fields, 4);
    json_number(json, "up_fields", aim->up_fields, 4);
    json_close(json, '}');
    json_number(json, "separation_deg", aim->separation_deg, 5);
    json_number(json, "position_angle_deg", aim->position_angle_deg, 3);
    json_bool(json, "mirrored", aim->mirrored);
}

int aim_report_json(FILE *out, const struct solved_frame *solved, const struct aim_target *target,
                    const struct aim *aim, struct error *err)
{
    struct json json = {0};
    solve_report_open(&json, solved, NULL);
    add_target(&json, target);
    if (solved->solution.solved) {
        add_place(&json, aim);
        add_turn(&json, aim);
    }
    return solve_report_close(out, &json, err);
}
