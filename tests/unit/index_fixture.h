/* tests/unit/index_fixture.h: a small index and a sky, made once for all suites that need them. */
#ifndef ALIDADE_TESTS_INDEX_FIXTURE_H
#define ALIDADE_TESTS_INDEX_FIXTURE_H

#include "build.h"
#include "catalogue.h"
#include "demo/starfield.h"
#include "match/index.h"

#include <stddef.h>

/* The bundled catalogue down to V 7 (about 15,000 stars, complete): in memory, in the order of the
 * file. Belongs to the caller. */
void fixture_catalogue(struct catalogue *catalogue);

/* build_index into memory; *bytes belongs to the caller. */
int fixture_build(unsigned char **bytes, size_t *size, struct build_report *report,
                  struct catalogue *catalogue, const struct build_options *options,
                  struct error *err);

/* Its index, built at the first call and kept; borrowed. Call it from an unchecked fixture, so that
 * tests that run in processes of their own share one. */
const struct index *fixture_index(void);
const unsigned char *fixture_bytes(size_t *size);

/* The demo's sky over the whole catalogue, likewise. */
const struct starfield *fixture_sky(void);

/* The index over the whole bundled catalogue, which the build has made by now; borrowed, open from
 * fixture_open_bundled to fixture_close_bundled. */
const struct index *fixture_bundled(void);

/* Unchecked fixtures. */
void fixture_make_index(void);
void fixture_make_both(void);
void fixture_open_bundled(void); /* and the sky */
void fixture_close_bundled(void);

#endif
