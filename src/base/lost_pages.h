/* base/lost_pages.h: a program outlives that a file it has mapped is cut short. */
#ifndef ALIDADE_BASE_LOST_PAGES_H
#define ALIDADE_BASE_LOST_PAGES_H

/* From here on a page of a mapped file that is no longer there reads as zeros, instead of ending
 * the program by SIGBUS; file_map_changed tells that it happened. For programs, at their start: the
 * library does not call it, since what a signal does belongs to the whole process. */
void lost_pages_read_as_zeros(void);

#endif
