/* cage/cage_keeper.h: the process that starts the workers of a cage, split off while its program
 * had one thread. */
#ifndef ALIDADE_CAGE_CAGE_KEEPER_H
#define ALIDADE_CAGE_CAGE_KEEPER_H

#include "cage/cage_limits.h"

#include <sys/types.h>

/* The program's end of it. */
struct cage_keeper {
    int socket; /* of packets; -1: there is none */
    pid_t process;
};

/* Returns 0, or what errno says. limits: no member is zero. */
int cage_keeper_start(struct cage_keeper *keeper, const struct cage_limits *limits);
void cage_keeper_end(struct cage_keeper *keeper);

/* Starts a worker, with a socket to it, which is closed to end it. Returns 0, or what errno says.
 * Neither is for two threads at a time. */
int cage_keeper_add(struct cage_keeper *keeper, pid_t *worker, int *socket);
/* Ends a worker that has not ended by itself. Returns its status as waitpid gives it. */
int cage_keeper_bury(struct cage_keeper *keeper, pid_t worker);

#endif
