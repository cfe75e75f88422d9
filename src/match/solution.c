#include "match/solution.h"

#include <stdlib.h>

void solution_free(struct solution *solution)
{
    free(solution->pair);
    *solution = (struct solution){0};
}
