#include "match/index.h"
#include "match/quad.h"

#include <math.h>

bool index_make_quad(struct index_quad *quad, double *diameter, const struct index *index,
                     const uint32_t members[4])
{
    double direction[4][3], plane[4][2], code[4];
    int order[4];
    for (int i = 0; i < 4; i++) {
        index_star_vector(direction[i], &index->star[members[i]]);
    }
    if (!quad_sky_plane(plane, direction) || !quad_code(code, order, diameter, plane)) {
        return false;
    }
    for (int i = 0; i < 4; i++) {
        quad->code[i] = (int16_t)lrint(code[i] * INDEX_CODE_UNIT);
        quad->star[i] = members[order[i]];
    }
    return true;
}
