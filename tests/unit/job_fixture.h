/* tests/unit/job_fixture.h: what tests of jobs share: an engine, rendered frames, and silence. */
#ifndef ALIDADE_TESTS_JOB_FIXTURE_H
#define ALIDADE_TESTS_JOB_FIXTURE_H

#include "image/picture_source.h"
#include "jobs/job_control.h"
#include "jobs/job_engine.h"
#include "scratch.h"
#include "sky/wcs.h"

/* Unchecked fixture: opens the engine with the bundled index and tables, loads the demo's sky, and
 * sets the program's variables, and the zone, to what no job may heed. */
void job_fixture_open(void);
void job_fixture_close(void);
struct job_engine *job_fixture_engine(void);

/* Renders a frame of a fixed tripod: 1500 x 1000 px, 7.6 degrees wide, of Orion's sword on
 * 2026-01-18, that many seconds later. The ending says the format. truth may be NULL. */
void job_fixture_render(const char *path, double later_s, struct wcs *truth);
/* A PNG of an even grey, 64 x 64: a picture without stars. */
void job_fixture_render_grey(const char *path);

/* The same in the scratch folder of the test; the path as of scratch_path. */
static inline const char *job_fixture_frame(const char *name, double later_s, struct wcs *truth)
{
    const char *path = scratch_path(name);
    job_fixture_render(path, later_s, truth);
    return path;
}

static inline const char *job_fixture_grey(const char *name)
{
    const char *path = scratch_path(name);
    job_fixture_render_grey(path);
    return path;
}

/* The same in memory; free the bytes. */
struct picture_source job_fixture_memory(const char *path);

/* From one to the other nothing may be printed on stdout or stderr. */
void job_fixture_hush(void);
void job_fixture_unhush(void);

/* A control that counts the calls, and cancels the job after so many (-1: never). */
struct job_watchman {
    struct job_control control;
    atomic_bool cancelled;
    int calls, last_done, last_all, cancel_after;
};
void job_watchman_start(struct job_watchman *man, int cancel_after);

/* A test case with the engine and the scratch folder. */
static inline TCase *job_fixture_case(Suite *suite, const char *name)
{
    TCase *c = scratch_case(suite, name);
    tcase_add_unchecked_fixture(c, job_fixture_open, job_fixture_close);
    return c;
}

#endif
