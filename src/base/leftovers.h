/* base/leftovers.h: temporary files of outputs, and what dead processes left of them. */
#ifndef ALIDADE_BASE_LEFTOVERS_H
#define ALIDADE_BASE_LEFTOVERS_H

#include <stdbool.h>
#include <stddef.h>

/* The name of a process's temporary in the folder of target: "folder/.alidade-PID-NUMBER.tmp".
 * Returns as snprintf does. */
int leftovers_name(char *out, size_t size, const char *target, long pid, int number);

/* Locks a temporary that was just created, so that no other program takes it for a leftover. */
void leftovers_hold(int descriptor);

/* Removes from the folder of target what such names have and nobody writes any more: plain files of
 * this user, unchanged for a minute, of a process that is gone, which nobody holds. What cannot be
 * told is left. Touches nothing else; failures are not reported. */
void leftovers_sweep(const char *target);

#endif
