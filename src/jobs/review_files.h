/* jobs/review_files.h: the frames in folders. */
#ifndef ALIDADE_JOBS_REVIEW_FILES_H
#define ALIDADE_JOBS_REVIEW_FILES_H

#include "base/error.h"

/* Starts as all zeros; free with review_files_free. */
struct review_files {
    char **name; /* paths, in the order of names with numbers by value */
    int count, capacity;
    int skipped; /* folders that could not be listed, or lie too deep, and were left out ... */
    struct error first_skipped; /* ... and why the first one of them */
};

enum { REVIEW_FILES_DEEPEST = 32 };

/* Adds the frames in a folder and the folders in it, down to REVIEW_FILES_DEEPEST below it, as
 * judged by their names; or a single file, whatever it is called. Hidden ones and links to folders
 * are left out, so that no loop is walked; of a raw file and its JPEG only the raw file counts. A
 * folder in it that cannot be listed is counted in files->skipped. ERROR_INPUT if path itself
 * cannot be opened or listed, ERROR_MEMORY. */
int review_files_add(struct review_files *files, const char *path, struct error *err);
/* To be called after the last review_files_add. */
void review_files_settle(struct review_files *files);
void review_files_free(struct review_files *files);

#endif
