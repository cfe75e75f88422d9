#include "job_fixture.h"

#include "demo/render_write.h"
#include "index_fixture.h"

#include <fcntl.h>
#include <math.h>

static struct job_engine engine;

struct job_engine *job_fixture_engine(void)
{
    return &engine;
}

void job_fixture_open(void)
{
    static const char *const variables[] = {"ALIDADE_INDEX", "ALIDADE_CATALOGS", "ALIDADE_RIG",
                                            "XDG_CONFIG_HOME", "HOME"};
    char name[512];
    const char *build = getenv("BUILD");
    struct error err = {0};
    snprintf(name, sizeof name, "%.400s/hipparcos.alidx", build ? build : "build");
    ck_assert_msg(job_engine_open(&engine, name, "catalogs", &err) == 0, "%s", err.text);
    rig_in_use_set_place(&engine.rig, 50, 10);
    fixture_sky();
    for (size_t i = 0; i < sizeof variables / sizeof *variables; i++) {
        setenv(variables[i], "/nonsense/that/is/not/there", 1);
    }
    setenv("TZ", "Nowhere-9", 1);
}

void job_fixture_close(void)
{
    job_engine_close(&engine);
}

void job_fixture_render(const char *path, double later_s, struct wcs *truth)
{
    const struct place place = {.latitude_deg = 50, .longitude_deg = 10};
    const struct render_header header = {0};
    struct render_options o = render_options_typical();
    struct rendering rendering = {0};
    struct error err = {0};
    struct utc start;
    o.camera.focal_mm = 150;
    o.camera.pixel_um = 13.3;
    o.camera.exposure_s = 1;
    o.lens.width = 1500;
    o.lens.height = 1000;
    o.seed = (uint64_t)(1 + later_s);
    ck_assert(time_read(&start, "2026-01-18T21:00:00Z"));
    ck_assert(render_point_tripod(&o, &place, time_add(start, later_s), 172, 35, 0));
    ck_assert_msg(render(&rendering, fixture_sky(), NULL, &o, &err) == 0, "%s", err.text);
    ck_assert_msg(render_write(&rendering, path, &header, &err) == 0, "%s", err.text);
    if (truth) {
        *truth = rendering.truth;
    }
    rendering_free(&rendering);
}

struct picture_source job_fixture_memory(const char *path)
{
    size_t size;
    const unsigned char *bytes = scratch_read(path, &size);
    return picture_source_bytes(bytes, size, path);
}

void job_fixture_render_grey(const char *path)
{
    static float grey[64 * 64];
    struct rendering rendering = {.width = 64, .height = 64, .adu = grey};
    struct error err = {0};
    for (int i = 0; i < 64 * 64; i++) {
        grey[i] = 500;
    }
    ck_assert_msg(render_write_png(&rendering, path, 16, &err) == 0, "%s", err.text);
}

static int kept[2];
static FILE *heard;

void job_fixture_hush(void)
{
    fflush(NULL);
    heard = tmpfile();
    ck_assert_ptr_nonnull(heard);
    for (int i = 0; i < 2; i++) {
        kept[i] = dup(i + 1);
        ck_assert(dup2(fileno(heard), i + 1) >= 0);
    }
}

void job_fixture_unhush(void)
{
    fflush(NULL);
    for (int i = 0; i < 2; i++) {
        dup2(kept[i], i + 1);
        close(kept[i]);
    }
    ck_assert_int_eq(lseek(fileno(heard), 0, SEEK_END), 0);
    fclose(heard);
}

static void count(void *context, int done, int all)
{
    struct job_watchman *man = context;
    man->calls++;
    man->last_done = done;
    man->last_all = all;
    if (man->calls == man->cancel_after) {
        atomic_store(&man->cancelled, true);
    }
}

void job_watchman_start(struct job_watchman *man, int cancel_after)
{
    memset(man, 0, sizeof *man);
    atomic_init(&man->cancelled, cancel_after == 0);
    man->cancel_after = cancel_after;
    man->control = (struct job_control){&man->cancelled, count, man};
}
