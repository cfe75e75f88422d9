/* cli/alert_command.h: the user's own command for alerts: a sound, a message to a telephone. */
#ifndef ALIDADE_CLI_ALERT_COMMAND_H
#define ALIDADE_CLI_ALERT_COMMAND_H

#include "base/error.h"

/* What the command finds in its environment, as ALIDADE_ALERT, _TITLE, _TEXT and _FRAME. */
struct alert_message {
    const char *key, *title, *text, *frame;
};

/* Starts the command by the shell and does not wait for it; what it prints goes to stderr. Nothing
 * from a file name gets into the command itself. ERROR_OUTPUT if it cannot be started. */
int alert_command_start(const char *command, const struct alert_message *message,
                        struct error *err);

/* Forgets commands that have ended; call now and then. */
void alert_command_reap(void);

#endif
