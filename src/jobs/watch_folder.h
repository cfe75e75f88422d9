/* jobs/watch_folder.h: the frames of a folder, each as soon as it is complete.
 *
 * The truth is what the folder lists; that the system reports changes (inotify) only shortens the
 * wait, since it reports none of a network drive. A file counts as a frame by its ending, so names
 * under which copies grow (.part, .tmp, hidden ones) do not count until they are renamed. It is
 * complete once its writer has closed it, or it has not changed for a while. Of a raw file and a
 * JPEG of one name only the raw file counts if both are there, else the one that comes first. */
#ifndef ALIDADE_JOBS_WATCH_FOLDER_H
#define ALIDADE_JOBS_WATCH_FOLDER_H

#include "base/error.h"

#include <stdbool.h>
#include <stdint.h>

enum folder_file_state {
    FOLDER_FILE_GROWING, /* may still be written to */
    FOLDER_FILE_EMPTY,   /* and not written to for a while */
    FOLDER_FILE_READY,
    FOLDER_FILE_TAKEN, /* by folder_take */
    FOLDER_FILE_LATER, /* could not be read for a reason that may pass: ready again later */
    FOLDER_FILE_TWIN   /* of one that was taken: the same picture in another format */
};

struct folder_file {
    char *name;            /* within the folder, whatever its bytes; owned */
    int64_t size;          /* bytes */
    int64_t changed_ns;    /* since 1970, by the clock of the file system */
    double steady_since_s; /* on the caller's clock */
    enum folder_file_state state;
    int tries;       /* how often it was taken as it is */
    int read_errors; /* how many of these the disk, card or network failed */
    double again_s;  /* FOLDER_FILE_LATER: when, on the caller's clock */
    bool told;       /* that it could not be read */
};

/* Starts as all zeros; free with folder_close. */
struct watch_folder {
    char *path;
    bool poll;
    struct folder_file *file; /* count, in the order of frame_name_compare */
    int count;
    int next;      /* before this one none is ready */
    int reports;   /* descriptor of inotify; -1: none */
    char **closed; /* names whose writers closed them since the last look; closed_count */
    int closed_count;
};

/* A folder that is read by polling alone if poll is set. ERROR_INPUT, ERROR_MEMORY. */
int folder_open(struct watch_folder *folder, const char *path, bool poll, struct error *err);
void folder_close(struct watch_folder *folder);

/* Lists the folder again at now_s, seconds on any clock that only advances. A file that has changed
 * since it was taken is ready anew. ERROR_INPUT if the folder can no longer be read (a card that
 * was drawn): what is known of it is kept. */
int folder_look(struct watch_folder *folder, double now_s, struct error *err);

/* Takes the first frames that are ready, at most most of them, in the order of frame_name_compare.
 * They are borrowed until the next folder_look. Returns how many. */
int folder_take(const struct folder_file **taken, int most, struct watch_folder *folder);

/* Puts a taken file back to where it must settle again: it turned out to be incomplete. False,
 * with nothing done, if it has been taken so many times without a change. */
bool folder_put_back(struct watch_folder *folder, const char *name, int most_tries, double now_s);

/* Counts a try at a taken file that the disk, card or network failed; the count is its
 * read_errors. */
void folder_note_read_error(struct watch_folder *folder, const char *name);

/* Lets a taken file that was told of be ready again at again_s, though it does not change. */
void folder_retry_later(struct watch_folder *folder, const char *name, double again_s);

/* Whether a file is there that is not complete yet and may become so. */
bool folder_is_growing(const struct watch_folder *folder);

/* Returns when something may have changed, after timeout_s at the latest. */
void folder_wait(struct watch_folder *folder, double timeout_s);

#endif
