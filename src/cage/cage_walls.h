/* cage/cage_walls.h: what a process gives up before it decodes pictures of strangers. */
#ifndef ALIDADE_CAGE_CAGE_WALLS_H
#define ALIDADE_CAGE_CAGE_WALLS_H

/* From here on this process can neither write to, make, rename nor remove any file (Landlock,
 * seccomp), open no socket, run no program, start no process and touch no other one (seccomp), nor
 * get any of it back. A wall that the kernel does not know is left out. There may be no other
 * thread. */
void cage_walls_raise(void);

/* At most so many megabytes more of address space than this process has now, for good. Not under
 * address sanitizers, which take what they like. */
void cage_walls_limit_memory(double megabytes);

/* The process ends, by SIGXCPU, when it has taken so many more seconds of processor time. */
void cage_walls_limit_time(int seconds);

#endif
