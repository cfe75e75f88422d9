/* web/engine/engine.h: both programs as one that a page calls: words in, answer out. Files are
 * those of the page's memory. */
#ifndef ALIDADE_WEB_ENGINE_ENGINE_H
#define ALIDADE_WEB_ENGINE_ENGINE_H

/* Runs a command line, its words parted by newlines and the program's name first:
 * "alidade\nsolve\n--json\n/frame.jpg". Returns the exit code of the program. What it has printed
 * is engine_answer() and engine_complaints() until the next call. One call at a time. */
int engine_run(const char *words);

const char *engine_answer(void);     /* standard output, UTF-8; "" if there is none */
const char *engine_complaints(void); /* standard error */

#endif
