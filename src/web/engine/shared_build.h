/* web/engine/shared_build.h: the index built by several workers of a page, each with an engine: all
 * begin with the same stars; one of them takes the chunks of quads that the others have chosen, and
 * ends. One build at a time. What went wrong is engine_complaint(). */
#ifndef ALIDADE_WEB_ENGINE_SHARED_BUILD_H
#define ALIDADE_WEB_ENGINE_SHARED_BUILD_H

/* Reads a file of stars and writes what the index has of these. How many chunks there are, 0 on
 * failure. */
int engine_build_begin(const char *stars, const char *output);
/* Chooses chunks from first to before end; they must come in order. 0, or an error code. */
int engine_build_choose(int first, int end);
/* Chooses them for another engine, into a file. */
int engine_build_give(int first, int end, const char *output);
/* The inverse: takes the chunks of a file, in place of engine_build_choose. */
int engine_build_take(const char *input);
/* Writes the quads, and gives the index its name. */
int engine_build_end(void);
/* A sentence. */
const char *engine_complaint(void);

#endif
