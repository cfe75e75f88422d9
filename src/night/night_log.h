/* night/night_log.h: the log of a session: one JSON line a frame, appended as it comes.
 *
 * A line is appended in one piece; a program that is killed, or a power cut, leaves at most one
 * torn line at the end, which the next start removes. */
#ifndef ALIDADE_NIGHT_NIGHT_LOG_H
#define ALIDADE_NIGHT_NIGHT_LOG_H

#include "base/error.h"
#include "night/night_list.h"

#include <stdbool.h>
#include <stddef.h>

/* What a log is called in the folder of its frames. */
#define NIGHT_LOG_NAME "alidade-night.jsonl"

/* Starts as all zeros; free with night_log_close. */
struct night_log {
    bool open;
    int descriptor;
    char *name;
    char *waiting; /* lines that a full disk did not take, to be written before the next; owned */
    size_t waiting_length;
    bool unsafe; /* written, but not brought to the disk */
};

/* Opens or creates the file, for this process alone, and adds the frames that it holds to known.
 * ERROR_OUTPUT if it cannot be written, ERROR_NO if another process has it open, ERROR_INPUT if it
 * is something else than such a log (it is not touched then), ERROR_MEMORY. */
int night_log_open(struct night_log *log, struct night_list *known, const char *name,
                   struct error *err);
void night_log_close(struct night_log *log);

/* Appends the frame's line, after those that are waiting. On ERROR_OUTPUT nothing of them is in the
 * file and all of them wait for the next call; ERROR_MEMORY: the frame is not kept. */
int night_log_add(struct night_log *log, const struct night_frame *frame, struct error *err);

/* Writes what waits and brings all to the disk, so that a power cut takes nothing of it: after each
 * frame, or after a few that come at once. ERROR_OUTPUT. */
int night_log_sync(struct night_log *log, struct error *err);

#endif
