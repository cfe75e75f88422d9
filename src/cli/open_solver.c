#include "cli/open_solver.h"

#include "cli/index_place.h"

static int add_bodies(struct solver *solver, const char *catalogs, struct error *err)
{
    char place[4096];
    struct error reason = {0};
    int code = catalogs_place(place, sizeof place, catalogs, &reason);
    if (!code) {
        code = solver_add_bodies(solver, place, &reason);
    }
    return code && catalogs ? error_set(err, code, "%s", reason.text) : 0;
}

int open_solver(struct solver *solver, const struct solver_settings *settings, struct error *err)
{
    char place[4096];
    solver->hints = &settings->hints;
    int code = hint_options_check(&settings->hints, err);
    if (!code) {
        code = rig_open(&solver->rig, &settings->rig, err);
    }
    if (!code) {
        code = index_place(place, sizeof place, settings->index, err);
    }
    if (!code) {
        code = solver_open(solver, place, err);
    }
    return code ? code : add_bodies(solver, settings->catalogs, err);
}
