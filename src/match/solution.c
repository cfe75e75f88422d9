#include "match/solution.h"

#include <math.h>
#include <stdlib.h>

void solution_free(struct solution *solution)
{
    free(solution->pair);
    *solution = (struct solution){0};
}

void solution_cross(double off[4][2], const struct wcs *wcs)
{
    static const double side[4][2] = {{1, 0}, {-1, 0}, {0, 1}, {0, -1}};
    const double arm_px = 0.05 * hypot(wcs->width, wcs->height);
    for (int i = 0; i < 4; i++) {
        off[i][0] = side[i][0] * arm_px;
        off[i][1] = side[i][1] * arm_px;
    }
}
