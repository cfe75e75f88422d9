#include "jobs/learn_lens.h"

#include "base/text.h"
#include "jobs/rig_keep.h"
#include "match/solve.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* EXIF rounds a focal length, and a zoom creeps; as in rig/rig_profile.c. */
static const double same_focal = 0.03;

/* A profile no better known than this is none, share at the corner. */
static const double useless_error = 0.01;

/* A frame that loses so many of its stars when it is paired again is not as the others. */
static const double kept_pairs = 0.8;

int lens_night_open(struct lens_night *night, int most, struct error *err)
{
    memset(night, 0, sizeof *night);
    night->note = calloc((size_t)most, sizeof *night->note);
    if (!night->note || pthread_mutex_init(&night->lock, NULL)) {
        free(night->note);
        memset(night, 0, sizeof *night);
        return error_memory(err);
    }
    return 0;
}

void lens_night_free(struct lens_night *night)
{
    for (int i = 0; i < night->count; i++) {
        star_list_free(&night->note[i].stars);
        free(night->note[i].pair);
    }
    if (night->note) {
        pthread_mutex_destroy(&night->lock);
    }
    free(night->note);
    memset(night, 0, sizeof *night);
}

void lens_night_add(struct lens_night *night, struct solved_frame *solved,
                    const struct job_engine *engine, const struct occasion_settings *settings)
{
    struct solution *solution = &solved->solution;
    if (solution->wcs.projection != PROJECTION_TAN) {
        return; /* a profile is of lenses that draw straight lines straight */
    }
    struct lens_note note = {.name = solved->name,
                             .width = solved->frame.width,
                             .height = solved->frame.height,
                             .focal_mm = solved->hints.focal_mm,
                             .stars = solved->stars,
                             .pair = solution->pair,
                             .pairs = solution->matched,
                             .index = solved->index,
                             .pose = solution->pose,
                             .mirrored = solution->mirrored};
    snprintf(note.model, sizeof note.model, "%s", solved->frame.facts.lens);
    occasion_find(&note.occasion, &solved->frame.facts, &engine->rig.rig, settings);
    solved->stars = (struct star_list){0};
    solution->pair = NULL;
    solution->matched = 0;
    pthread_mutex_lock(&night->lock);
    night->note[night->count++] = note;
    pthread_mutex_unlock(&night->lock);
}

static bool are_alike(const struct lens_note *a, const struct lens_note *b)
{
    return a->width == b->width && a->height == b->height &&
           fabs(log(a->focal_mm / b->focal_mm)) < same_focal;
}

static int compare_notes(const void *left, const void *right)
{
    const struct lens_note *a = left, *b = right;
    return strcmp(a->name, b->name);
}

/* Puts the frames that most are like in front; returns how many, 0 if no focal length is known. */
static int pick_alike(struct lens_night *night)
{
    int most = 0, chosen = -1;
    qsort(night->note, (size_t)night->count, sizeof *night->note, compare_notes);
    for (int i = 0; i < night->count; i++) {
        int alike = 0;
        for (int k = 0; night->note[i].focal_mm > 0 && k < night->count; k++) {
            alike += night->note[k].focal_mm > 0 && are_alike(&night->note[i], &night->note[k]);
        }
        chosen = alike > most ? i : chosen;
        most = alike > most ? alike : most;
    }
    if (chosen < 0) {
        return 0;
    }
    const struct lens_note like = night->note[chosen];
    int placed = 0;
    for (int i = 0; i < night->count; i++) {
        struct lens_note note = night->note[i];
        if (note.focal_mm > 0 && are_alike(&note, &like)) {
            night->note[i] = night->note[placed];
            night->note[placed++] = note;
        }
    }
    return placed;
}

static int take_view(struct lens_view *view, const struct lens_note *note, struct error *err)
{
    struct horizon horizon;
    bool seen = occasion_has_horizon(&note->occasion) &&
                horizon_make(&horizon, &note->occasion.place, note->occasion.mid);
    free(view->sighting);
    *view = (struct lens_view){.pose = note->pose, .stretches = !seen, .count = note->pairs};
    view->sighting = calloc((size_t)note->pairs + 1, sizeof *view->sighting);
    if (!view->sighting) {
        return error_memory(err);
    }
    for (int i = 0; i < note->pairs; i++) {
        const struct match_pair *pair = &note->pair[i];
        const struct star *star = &note->stars.star[pair->star];
        struct lens_sighting *s = &view->sighting[i];
        s->x = (star->x - 0.5 * (note->width - 1)) * (note->mirrored ? -1 : 1);
        s->y = star->y - 0.5 * (note->height - 1);
        s->error = lens_expected_error(star);
        s->star = (uint32_t)pair->catalogue;
        index_star_vector(s->v, &note->index->star[pair->catalogue]);
    }
    if (seen) {
        lens_view_see(view, &horizon);
    }
    return 0;
}

/* Finds the frame's stars once more, as the lens that was learned places them. */
static int pair_again(struct lens_note *note, const struct lens_profile *profile, struct error *err)
{
    const double error_deg = 0.02, within_deg = 5;
    struct horizon horizon;
    struct known_lens lens = {.profile = *profile};
    struct solution again = {0};
    struct pose pose = note->pose;
    struct solve_options options = {.expected = &pose,
                                    .expected_mirrored = note->mirrored,
                                    .lens = &lens,
                                    .near_given = true,
                                    .within_deg = within_deg,
                                    .strict = true};
    if (occasion_has_horizon(&note->occasion) &&
        horizon_make(&horizon, &note->occasion.place, note->occasion.mid)) {
        lens.horizon = &horizon;
    }
    vector_to_radec(&options.near_ra_deg, &options.near_dec_deg, pose.axis[2]);
    pose_expect(&pose, error_deg);
    int code = solve_stars(&again, &note->stars, note->index, &options, err);
    if (!code && again.solved && again.matched >= kept_pairs * note->pairs) {
        free(note->pair);
        note->pair = again.pair;
        note->pairs = again.matched;
        note->pose = again.pose;
        again.pair = NULL;
    }
    solution_free(&again);
    return code;
}

static bool has_mirrored(const struct lens_night *night, int count)
{
    int mirrored = 0;
    for (int i = 0; i < count; i++) {
        mirrored += night->note[i].mirrored;
    }
    return 2 * mirrored > count;
}

/* In the hand of the picture, and back. */
static void turn_hand(struct lens_profile *profile, bool mirrored)
{
    profile->axis_x = mirrored ? -profile->axis_x : profile->axis_x;
}

/* It is kept for frames in landscape format: from others nobody knows which way it went. */
static void forget_axis(struct lens_lesson *lesson)
{
    struct lens_profile *profile = &lesson->profile;
    profile->axis_error = hypot(profile->axis_error, hypot(profile->axis_x, profile->axis_y));
    profile->axis_x = profile->axis_y = 0;
    lesson->has_axis = false;
}

static int fit(struct learned_lens *learned, struct lens_night *night, int count,
               struct lens_view *view, struct error *err)
{
    const bool mirrored = has_mirrored(night, count);
    int code = 0;
    for (int pass = 0; !code && pass < 2; pass++) {
        for (int i = 0; !code && pass > 0 && i < count; i++) {
            code = pair_again(&night->note[i], &learned->lesson.profile, err);
        }
        for (int i = 0; !code && i < count; i++) {
            code = take_view(&view[i], &night->note[i], err);
        }
        code = code ? code : lens_fit(&learned->lesson, view, count, learned->half_px, err);
        turn_hand(&learned->lesson.profile, mirrored);
    }
    if (!code && night->note[0].height > night->note[0].width) {
        forget_axis(&learned->lesson);
    }
    if (code == ERROR_NO || (!code && learned->lesson.profile.error > useless_error)) {
        return error_set(err, ERROR_NO,
                         "the stars of %d frame%s do not show how the lens bends: take more frames "
                         "or some with more stars, out to the corners",
                         count, count == 1 ? "" : "s");
    }
    return code;
}

/* What the frames have in common. */
static int describe(struct learned_lens *learned, struct lens_night *night, int *count,
                    struct error *err)
{
    *count = pick_alike(night);
    if (*count < 1) {
        return error_remedied(err,
                              error_set(err, ERROR_USAGE,
                                        "learning a lens needs the focal length, which the frames "
                                        "do not tell"),
                              REMEDY_LENS);
    }
    const struct lens_note *first = &night->note[0];
    learned->focal_mm = first->focal_mm;
    learned->half_px = 0.5 * hypot(first->width, first->height);
    learned->left_out = night->count - *count;
    snprintf(learned->model, sizeof learned->model, "%s", first->model);
    struct utc last = {0};
    for (int i = 0; i < *count; i++) {
        const struct occasion *occasion = &night->note[i].occasion;
        learned->seen += occasion_has_horizon(occasion);
        if (occasion->has_time && time_between(last, occasion->start) > 0) {
            last = occasion->start;
            time_write(learned->learned, sizeof learned->learned, last, 0);
        }
    }
    return 0;
}

/* The lens that it is, and the profile to be replaced, if they are there. */
static void name_it(struct learned_lens *learned, const struct job_engine *engine, const char *name,
                    const char *model)
{
    struct frame_facts facts = {.camera = ""};
    snprintf(facts.lens, sizeof facts.lens, "%s", model);
    const struct rig_lens *lens = rig_in_use_lens(&engine->rig, &facts);
    lens = name && !engine->rig.rig.lens_named ? NULL : lens;
    const struct rig_profile *kept =
        lens ? rig_profile_of(&engine->rig.file, lens, learned->focal_mm) : NULL;
    learned->is_new = !lens;
    snprintf(learned->name, sizeof learned->name, "%s",
             lens   ? lens->entry.name
             : name ? name
                    : "lens");
    if (kept) {
        snprintf(learned->profile, sizeof learned->profile, "%s", kept->entry.name);
    } else {
        text_append(learned->profile, sizeof learned->profile, "%.24s at %g mm", learned->name,
                    learned->focal_mm);
    }
}

/* Whether a name goes into the file as it is. */
static bool is_plain(const char *text)
{
    for (; *text; text++) {
        if ((unsigned char)*text < ' ' || strchr("[];#", *text)) {
            return false;
        }
    }
    return true;
}

static int keep(const struct learned_lens *learned, struct error *err)
{
    enum { TEXT = 80 };
    const struct lens_profile *profile = &learned->lesson.profile;
    const double *term = profile->term;
    char lens[RIG_NAME_SIZE + 8], section[RIG_NAME_SIZE + 12];
    char focal[TEXT], radius[TEXT], bend[TEXT], error[TEXT], axis[TEXT], axis_error[TEXT];
    snprintf(lens, sizeof lens, "lens %s", learned->name);
    snprintf(section, sizeof section, "profile %s", learned->profile);
    snprintf(focal, TEXT, "%g", learned->focal_mm);
    snprintf(radius, TEXT, "%.4f", profile->radius * learned->focal_mm);
    snprintf(bend, TEXT, "%.5f, %.5f, %.5f", text_rounded(100 * term[0], 5),
             text_rounded(100 * term[1], 5), text_rounded(100 * term[2], 5));
    snprintf(error, TEXT, "%.5f", 100 * profile->error);
    snprintf(axis, TEXT, "%.3f, %.3f", text_rounded(100 * profile->axis_x, 3),
             text_rounded(100 * profile->axis_y, 3));
    snprintf(axis_error, TEXT, "%.3f", 100 * profile->axis_error);
    const struct rig_value of_lens[] = {{"focal", focal}, {"model", learned->model}};
    const struct rig_value of_profile[] = {
        {"lens", learned->name},    {"focal", focal},
        {"radius", radius},         {"distortion", bend},
        {"error", error},           {"axis", axis},
        {"axis error", axis_error}, {"learned", learned->learned}};
    const int values = sizeof of_profile / sizeof *of_profile;
    const struct rig_lesson lesson[] = {
        {lens, of_lens, learned->model[0] && is_plain(learned->model) ? 2 : 1},
        {section, of_profile, learned->learned[0] ? values : values - 1}};
    const int first = learned->is_new ? 0 : 1;
    return rig_keep_all(learned->file, lesson + first, 2 - first, err);
}

int learn_lens(struct learned_lens *learned, struct lens_night *night,
               const struct job_engine *engine, const char *name, const char *file,
               struct error *err)
{
    int count = 0;
    memset(learned, 0, sizeof *learned);
    snprintf(learned->file, sizeof learned->file, "%s", file);
    if (night->count == 0) {
        return error_set(err, ERROR_NO, "learning a lens needs solved frames");
    }
    if (name && (!is_plain(name) || !*name || strlen(name) >= sizeof learned->name)) {
        return error_set(err, ERROR_USAGE,
                         "the lens: expected a name of up to 39 bytes without brackets, ; and #");
    }
    int code = describe(learned, night, &count, err);
    if (code) {
        return code;
    }
    struct lens_view *view = calloc((size_t)count + 1, sizeof *view);
    code = view ? fit(learned, night, count, view, err) : error_memory(err);
    for (int i = 0; view && i < count; i++) {
        free(view[i].sighting);
    }
    free(view);
    if (!code) {
        name_it(learned, engine, name, learned->model);
        code = keep(learned, err);
    }
    return code;
}
