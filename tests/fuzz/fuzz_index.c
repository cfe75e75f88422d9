/* An index with any damage, signed anew: it must be refused, or be used without harm, and never
 * give a wrong place. The input is once taken for a whole file, and once for a list of changes to a
 * good index of bright stars: which section, where in it, and which bytes go there. What takes
 * longer than a look, a solve and a check of the whole file, is done for a share of the inputs. */
#include "build.h"
#include "catalogue.h"
#include "fuzz_change.h"
#include "match/index_layout.h"
#include "match/solve.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* A change: section (the last: the header), three bytes of place, then what is put there. */
enum { CHANGE = 8, CHANGE_BYTES = 4, MOST_CHANGES = 64 };
enum { WIDTH = 3000, HEIGHT = 2000, MOST_STARS = 60, MOST_EFFORT = 700000 };

struct good_index {
    unsigned char *bytes, *copy;
    size_t size;
    struct index index;
    struct star_list sky; /* what a camera sees of it, around the place below */
};

static const struct wcs sky_wcs = {.ra_deg = 84,
                                   .dec_deg = 0,
                                   .x = (WIDTH - 1) / 2.0,
                                   .y = (HEIGHT - 1) / 2.0,
                                   .cd = {{-0.013, 0}, {0, -0.013}},
                                   .width = WIDTH,
                                   .height = HEIGHT};

static void need(bool true_of_it)
{
    if (!true_of_it) {
        abort();
    }
}

static void build(struct good_index *good)
{
    struct catalogue catalogue = {0};
    struct catalogue_report read;
    struct build_report report;
    struct error err = {0};
    struct file_bytes memory = {0};
    struct file_out out = {0};
    const struct catalogue_columns columns = {.has_faintest = true, .faintest = 5, .threads = 1};
    const struct build_options options = {.name = "bright", .source = "", .faintest = NAN};
    const struct file_target target = {"index", &memory};
    const char *folder = getenv("TABLES");
    char name[300];
    snprintf(name, sizeof name, "%.256s/stars.tsv", folder ? folder : "catalogs");
    need(!catalogue_read(&catalogue, &read, name, &columns, NULL, NULL, &err));
    need(!file_out_open_to(&out, &target, &err));
    need(!build_index(out.stream, &report, &catalogue, &options, &err));
    need(!file_out_commit(&out, &err));
    catalogue_free(&catalogue);
    good->bytes = (unsigned char *)memory.bytes;
    good->size = memory.size;
    good->copy = malloc(good->size);
    need(good->copy && !index_decode(&good->index, good->bytes, good->size, &err));
    memcpy(good->copy, good->bytes, good->size);
}

static void look(struct good_index *good)
{
    uint32_t star[MOST_STARS];
    double centre[3];
    wcs_direction(centre, &sky_wcs, sky_wcs.x, sky_wcs.y);
    int count = index_brightest(star, MOST_STARS, &good->index, centre, 0.42, 5000);
    good->sky = (struct star_list){
        .star = calloc(MOST_STARS, sizeof *good->sky.star), .width = WIDTH, .height = HEIGHT};
    for (int i = 0; i < count; i++) {
        double v[3], x, y;
        index_star_vector(v, &good->index.star[star[i]]);
        if (wcs_pixel(&x, &y, &sky_wcs, v) && x > 0 && y > 0 && x < WIDTH && y < HEIGHT) {
            double flux = pow(10, -0.4e-3 * good->index.star[star[i]].mag) * 1e6;
            good->sky.star[good->sky.count++] = (struct star){.x = x,
                                                              .y = y,
                                                              .flux = flux,
                                                              .peak = flux / 9,
                                                              .size = 1.5,
                                                              .elongation = 1,
                                                              .snr = 100};
        }
    }
    good->sky.raw_count = good->sky.count;
}

/* What a solve finds, within a small effort, is either nothing or the truth. */
static bool solve(const struct good_index *good, const struct index *index)
{
    static struct effort effort;
    struct solution solution = {0};
    struct error err = {0};
    const struct solve_options options = {.scale_arcsec = 46.8, .scale_tolerance = 0.2};
    memset(&effort, 0, sizeof effort);
    effort.most = MOST_EFFORT;
    need(!solve_stars_within(&solution, &effort, &good->sky, index, &options, &err));
    bool solved = solution.solved;
    if (solved) {
        double truth[3], found[3];
        wcs_direction(truth, &sky_wcs, sky_wcs.x, sky_wcs.y);
        wcs_direction(found, &solution.wcs, sky_wcs.x, sky_wcs.y);
        need(truth[0] * found[0] + truth[1] * found[1] + truth[2] * found[2] > cos(0.02));
    }
    solution_free(&solution);
    return solved;
}

static const struct good_index *good_index(void)
{
    static struct good_index good;
    if (!good.bytes) {
        build(&good);
        look(&good);
        need(good.sky.count > 20 && solve(&good, &good.index));
    }
    return &good;
}

static void count_run(uint32_t first, uint32_t end, void *context)
{
    *(uint64_t *)context += end - first;
}

/* Asks all that can be asked of a view of it. */
static void use(const struct index *index, uint32_t which)
{
    static const double pole[3] = {0, 0, 1};
    uint32_t found[20];
    uint64_t sum = 0;
    struct index_block block;
    struct index_quad quad;
    uint32_t pair[2], anchor;
    index_brightest(found, 20, index, pole, 0.3, 6000);
    index_visit_levels(index, 0, index->levels - 1, pole, 0.5, count_run, &sum);
    for (uint32_t i = 0; i < 40; i++) {
        uint32_t star = (which + i * 977) % index->stars;
        index_number(index, star);
        index_neighbour(index, star, 1 + (int)(i % (uint32_t)index->neighbours));
        if (index_block_open(&block, index, (which + i * 4999) % index->grid.cells)) {
            for (uint32_t q = 0; q < block.count && q < 20; q++) {
                index_block_pairs(pair, &block, q);
                index_numbered_quad(&quad, &anchor, index, index_block_number(&block, q));
            }
        }
    }
}

static size_t find_change(size_t *length, const struct good_index *good, const uint8_t *change)
{
    char name[5];
    uint64_t offset = 0, size = LAYOUT_HEADER_END;
    index_section(good->bytes, good->size, change[0] % (LAYOUT_SECTION_COUNT + 1), name, &offset,
                  &size);
    size_t at = (size_t)change[1] << 16 | (size_t)change[2] << 8 | change[3];
    at = (size_t)offset + at % (size_t)(size ? size : 1);
    *length = good->size - at < CHANGE_BYTES ? good->size - at : CHANGE_BYTES;
    return at;
}

static void sign(unsigned char *bytes)
{
    uint32_t sum = index_layout_checksum(bytes);
    for (int i = 0; i < 4; i++) {
        bytes[LAYOUT_CHECKSUM + i] = (unsigned char)(sum >> 8 * i);
    }
}

static void try_changed(const struct good_index *good, uint32_t which)
{
    struct index index;
    struct error err = {0};
    sign(good->copy);
    int code = index_decode(&index, good->copy, good->size, &err);
    need(code == err.code && (!code || err.text[0]));
    if (!code) {
        use(&index, which);
    }
    if (!code && which % 512 == 0) {
        solve(good, &index);
    }
    if (which % 512 == 1) {
        struct error told = {0};
        code = index_check(good->copy, good->size, &told);
        need(code == told.code && (!code || told.text[0]));
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct good_index *good = good_index();
    struct index index;
    struct error err = {0};
    size_t length, changes = size / CHANGE < MOST_CHANGES ? size / CHANGE : MOST_CHANGES;
    uint32_t which = 0;
    if (index_decode(&index, data, size, &err) == 0) {
        use(&index, 0);
        index_check(data, size, &err);
    }
    for (size_t i = 0; i < changes; i++) {
        size_t at = find_change(&length, good, data + i * CHANGE);
        memcpy(good->copy + at, data + i * CHANGE + CHANGE_BYTES, length);
        which = (which + data[i * CHANGE + CHANGE - 1]) * 2654435761U >> 7;
    }
    if (changes > 0) {
        try_changed(good, which);
    }
    for (size_t i = 0; i < changes; i++) {
        size_t at = find_change(&length, good, data + i * CHANGE);
        memcpy(good->copy + at, good->bytes + at, length);
    }
    memcpy(good->copy + LAYOUT_CHECKSUM, good->bytes + LAYOUT_CHECKSUM, 4);
    return 0;
}
