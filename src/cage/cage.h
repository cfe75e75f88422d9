/* cage/cage.h: pictures are decoded in processes of their own, which may neither write nor reach a
 * network, and have bounds of memory and time. A picture that bursts its decoder costs itself and a
 * sentence; the program goes on.
 *
 * One process, the keeper, is split off before there is a second thread; it splits off a worker for
 * each picture that is read at a time, and a new one for each that died. Needs Linux for the
 * walls: where its kernel lacks one (Landlock, seccomp), the others stand. */
#ifndef ALIDADE_CAGE_CAGE_H
#define ALIDADE_CAGE_CAGE_H

#include "cage/cage_limits.h"
#include "image/frame.h"

struct cage;

/* To be called before there is a second thread. ERROR_INPUT if the system does not let it split off
 * a process; ERROR_MEMORY. Inverse: cage_close, after the last frame was read. */
int cage_open(struct cage **cage, const struct cage_limits *limits, struct error *err);
void cage_close(struct cage *cage);

/* For struct frame_options: reads like frame_read_from, for any number of threads at a time. In
 * addition ERROR_INPUT, with a sentence that says so, for a picture that needs more than the limits
 * (its cause is CAUSE_MEMORY where it was memory), or that a decoder perished of. Its close is
 * cage_close. Borrowed. */
const struct frame_reader *cage_reader(const struct cage *cage);

#endif
