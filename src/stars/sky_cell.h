/* stars/sky_cell.h: level and noise of the sky in one cell of a mesh. */
#ifndef ALIDADE_STARS_SKY_CELL_H
#define ALIDADE_STARS_SKY_CELL_H

/* Mode and rms of n finite values that are sky but for some stars: all beyond three times the rms
 * of the median are left out until none is left out any more; the mode is 2.5 medians less 1.5
 * means, or the median where stars make the two differ by more than 0.3 of the rms (Bertin &
 * Arnouts 1996, A&AS 117, 393, section 3). n: at least 1. known_rms: of values
 * whose mode is about 0, as an earlier look has found it; 0: nothing is known. The histogram has
 * bins of a sixth of the rms. */
void sky_cell_measure(float *mode, float *rms, const float *value, int n, double known_rms);

#endif
