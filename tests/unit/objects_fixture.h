/* tests/unit/objects_fixture.h: the bundled tables of objects, read once for a case of tests. */
#ifndef ALIDADE_TESTS_OBJECTS_FIXTURE_H
#define ALIDADE_TESTS_OBJECTS_FIXTURE_H

#include "objects/objects.h"

#include <check.h>

static struct objects objects;

static inline void objects_fixture_load(void)
{
    struct error err = {0};
    ck_assert_msg(objects_load(&objects, "catalogs", &err) == 0, "%s", err.text);
}

static inline void objects_fixture_free(void)
{
    objects_free(&objects);
}

#endif
