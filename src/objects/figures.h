/* objects/figures.h: the lines that join the stars of a constellation. */
#ifndef ALIDADE_OBJECTS_FIGURES_H
#define ALIDADE_OBJECTS_FIGURES_H

#include "base/error.h"

struct figure_line {
    char constellation[4]; /* abbreviation */
    int first, count;      /* its points; neighbours are joined by great circles */
};

/* Starts as all zeros; free with figures_free. */
struct figures {
    double (*point)[3]; /* unit vectors, ICRS */
    int points;
    struct figure_line *line;
    int lines;
};

/* Reads constellation-lines.tsv in the folder. ERROR_INPUT naming the line, ERROR_MEMORY; figures
 * is empty then. */
int figures_load(struct figures *figures, const char *folder, struct error *err);
void figures_free(struct figures *figures);

#endif
