/* The sentences that say what was measured. */
#include "base/text.h"
#include "base/units.h"
#include "tripod/aim.h"

#include <math.h>
#include <stdio.h>

/* Offsets smaller than this part of the picture need no word, or no move. */
static const double middle_part = 0.03, centred_part = 0.005;

/* On which side of the picture's middle the target is. */
static const char *side_word(const struct aim *aim)
{
    static const char *const words[8] = {
        "to the right of", "to the upper right of", "above", "to the upper left of",
        "to the left of",  "to the lower left of",  "below", "to the lower right of"};
    double right = cos(aim->up_deg * RAD_PER_DEG) * sin(aim->right_deg * RAD_PER_DEG);
    double up = sin(aim->up_deg * RAD_PER_DEG);
    int eighth = (int)lround(atan2(up, right) / (PI / 4));
    return words[(eighth + 8) % 8];
}

static bool is_about_middle(const struct aim *aim)
{
    return aim->has_pixel && fabs(aim->right_part) < middle_part &&
           fabs(aim->up_part) < middle_part;
}

static void write_share(char *out, size_t size, double share)
{
    double percent = share * 100;
    if (percent < 1) {
        snprintf(out, size, "less than 1 %%");
    } else {
        snprintf(out, size, "%.0f %%", fmin(percent, 99));
    }
}

void aim_write_verdict(char *out, size_t size, const struct aim *aim,
                       const struct aim_target *target)
{
    char distance[24], share[24];
    text_write_angle(distance, sizeof distance, aim->separation_deg);
    write_share(share, sizeof share, aim->share);
    const char *whole = target->shape.major_deg > 0 ? "wholly in the frame" : "in the frame";
    bool in_middle = is_about_middle(aim);
    const char *side = in_middle ? "in" : side_word(aim);
    if (aim->unproven) {
        snprintf(out, size,
                 "%s does not show: it would be %s the middle, where the stars do not "
                 "prove what is seen",
                 target->name, side);
    } else if (aim->verdict == AIM_WHOLE) {
        snprintf(out, size, "%s is %s, %s the middle", target->name, whole, side);
    } else if (aim->verdict == AIM_PARTLY) {
        snprintf(out, size, "%s is only partly in the frame (%s of %s), %s the middle",
                 target->name, share, aim->round_guess ? "the circle around it" : "it", side);
    } else if (aim->separation_deg > 90) {
        snprintf(out, size, "%s is not in the frame: it is behind the camera, %s from the middle",
                 target->name, distance);
    } else {
        snprintf(out, size, "%s is not in the frame: it is %s %s the middle", target->name,
                 distance, side_word(aim));
    }
}

/* "1.2° right"; nothing if there is nothing to turn. */
static bool write_turn(char *out, size_t size, double turn_deg, double fields, const char *plus,
                       const char *minus)
{
    char angle[24];
    out[0] = '\0';
    if (fabs(fields) < centred_part) {
        return false;
    }
    text_write_angle(angle, sizeof angle, fabs(turn_deg));
    snprintf(out, size, "%s %s", angle, turn_deg < 0 ? minus : plus);
    return true;
}

/* "0.14 of the width", "1.4 widths". */
static void write_fields(char *out, size_t size, double fields, const char *word)
{
    if (fabs(fields) < 0.995) {
        snprintf(out, size, "%.2f of the %s", fabs(fields), word);
    } else {
        snprintf(out, size, "%.1f %ss", fabs(fields), word);
    }
}

void aim_write_move(char *out, size_t size, const struct aim *aim)
{
    char across[40], along[40], widths[40], heights[40];
    bool right = write_turn(across, sizeof across, aim->right_deg, aim->right_fields,
                            aim->mirrored ? "left" : "right", aim->mirrored ? "right" : "left");
    bool up = write_turn(along, sizeof along, aim->up_deg, aim->up_fields, "up", "down");
    if (!right && !up) {
        snprintf(out, size, "centred");
        return;
    }
    write_fields(widths, sizeof widths, aim->right_fields, "width");
    write_fields(heights, sizeof heights, aim->up_fields, "height");
    const char *turn_and = right && up ? " and " : "", *fields_and = right && up ? ", " : "";
    snprintf(out, size, "%s%s%s (%s%s%s)", across, turn_and, along, right ? widths : "", fields_and,
             up ? heights : "");
}

/* "target 3.2° x 1.0°, frame 2.5° x 1.7°" */
static void write_sizes(char *out, size_t size, const struct aim *aim,
                        const struct aim_target *target)
{
    char major[24], minor[24], width[24], height[24];
    text_write_angle(major, sizeof major, 2 * target->shape.major_deg);
    text_write_angle(minor, sizeof minor, 2 * target->shape.minor_deg);
    text_write_angle(width, sizeof width, aim->field_width_deg);
    text_write_angle(height, sizeof height, aim->field_height_deg);
    snprintf(out, size, "target %s x %s, frame %s x %s", major, minor, width, height);
}

static void write_room_note(char *out, size_t size, const struct aim *aim,
                            const struct aim_target *target)
{
    char sizes[120];
    const char *margin = aim->margin > 0 ? " within the margin" : "";
    write_sizes(sizes, sizeof sizes, aim, target);
    if (aim->room == AIM_TOO_LARGE) {
        snprintf(out, size, "it cannot fit%s, even centred: %s", margin, sizes);
    } else {
        snprintf(out, size, "whether it fits%s depends on its orientation: %s", margin, sizes);
    }
}

int aim_write_notes(char note[AIM_MOST_NOTES][AIM_NOTE_SIZE], const struct aim *aim,
                    const struct aim_target *target)
{
    int notes = 0;
    if (aim->verdict == AIM_WHOLE && !aim->margin_kept && aim->room == AIM_FITS) {
        snprintf(note[notes++], AIM_NOTE_SIZE, "it is closer to the edge than the margin allows");
    }
    if (aim->room != AIM_FITS) {
        write_room_note(note[notes++], AIM_NOTE_SIZE, aim, target);
    } else if (aim->round_guess && aim->verdict == AIM_PARTLY) {
        char size[24];
        text_write_angle(size, sizeof size, 2 * target->shape.major_deg);
        snprintf(note[notes++], AIM_NOTE_SIZE,
                 "its orientation is not catalogued, so it is treated as a circle %s across", size);
    }
    if (aim->mirrored) {
        snprintf(
            note[notes++], AIM_NOTE_SIZE,
            "the picture is mirrored: what it shows on the left is to the right of the camera, "
            "and moves are the camera's");
    }
    return notes;
}
