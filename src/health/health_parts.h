/* health/health_parts.h: the steps that health_measure takes. */
#ifndef ALIDADE_HEALTH_HEALTH_PARTS_H
#define ALIDADE_HEALTH_HEALTH_PARTS_H

#include "health/health.h"
#include "stars/shape.h"

/* Trail of a star at pixel (x, y) on a fixed camera, px from beginning to end of exposure_s
 * seconds. The sky turns about the ICRS pole, 0.15 degrees or less from that of date until 2030.
 * False, with dx and dy untouched, where the picture's projection ends. */
bool health_drift(double *dx, double *dy, const struct wcs *wcs, double x, double y,
                  double exposure_s);

void health_add_shape(struct frame_health *health, const struct star_shape *shape, int shapes,
                      const struct health_input *input);
void health_add_motion(struct frame_health *health, const struct star_shape *shape, int shapes,
                       const struct health_input *input);
/* In place of all about shapes, where stars are arcs. */
void health_add_arcs(struct frame_health *health, const struct health_input *input);
int health_add_double(struct frame_health *health, const struct star_shape *shape, int shapes,
                      const struct health_input *input, struct error *err);
int health_add_light(struct frame_health *health, const struct health_input *input,
                     struct error *err);
int health_add_hidden(struct frame_health *health, const struct health_input *input,
                      struct error *err);

/* What is wrong by the figures and the limits: a bit 1 << fault for each. */
unsigned health_find_faults(const struct frame_health *health);

/* Standard error of a median of n values: of a normal distribution 1.2533 deviations over the root
 * of n (Kendall's Advanced Theory of Statistics, vol. 1, 10.10; from memory), and of few values,
 * whose deviation is itself uncertain, more. Leaves in value how far each is from the median, in
 * another order. */
double health_median_error(double *value, int n, double median);

/* Which of the HEALTH_ROWS * HEALTH_COLUMNS parts of the picture a pixel lies in. */
int health_part(const struct star_list *list, double x, double y);

#endif
