/* cage/cage_worker.h: a process that decodes one picture after the other behind walls. */
#ifndef ALIDADE_CAGE_CAGE_WORKER_H
#define ALIDADE_CAGE_CAGE_WORKER_H

#include "cage/cage_limits.h"

/* Raises the walls and answers wishes (see cage_message.h) until the other end of the socket is
 * closed. limits: no member is zero. */
void cage_worker_run(int socket, const struct cage_limits *limits);

#endif
