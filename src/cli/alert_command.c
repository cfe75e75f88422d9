#include "cli/alert_command.h"

#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

enum { OWN = 4, VALUE_SIZE = 1024 };

/* The environment with our own variables in front. The caller frees the list, not what is in it. */
static char **make_environment(char own[OWN][VALUE_SIZE], const struct alert_message *message)
{
    size_t count = 0;
    while (environ[count]) {
        count++;
    }
    char **list = calloc(count + OWN + 1, sizeof *list);
    if (!list) {
        return NULL;
    }
    snprintf(own[0], VALUE_SIZE, "ALIDADE_ALERT=%s", message->key);
    snprintf(own[1], VALUE_SIZE, "ALIDADE_TITLE=%s", message->title);
    snprintf(own[2], VALUE_SIZE, "ALIDADE_TEXT=%s", message->text);
    snprintf(own[3], VALUE_SIZE, "ALIDADE_FRAME=%s", message->frame);
    for (int i = 0; i < OWN; i++) {
        list[i] = own[i];
    }
    memcpy(list + OWN, environ, count * sizeof *list);
    return list;
}

int alert_command_start(const char *command, const struct alert_message *message, struct error *err)
{
    char own[OWN][VALUE_SIZE], shell[] = "sh", option[] = "-c";
    char *argument[] = {shell, option, (char *)command, NULL};
    posix_spawn_file_actions_t actions;
    pid_t process;
    char **environment = make_environment(own, message);
    if (!environment || posix_spawn_file_actions_init(&actions) != 0) {
        free(environment);
        return error_memory(err);
    }
    posix_spawn_file_actions_adddup2(&actions, STDERR_FILENO, STDOUT_FILENO);
    posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", 0, 0);
    int number = posix_spawn(&process, "/bin/sh", &actions, NULL, argument, environment);
    posix_spawn_file_actions_destroy(&actions);
    free(environment);
    return number ? error_set(err, ERROR_OUTPUT, "--on-alert: the command cannot be started: %s",
                              strerror(number))
                  : 0;
}

void alert_command_reap(void)
{
    while (waitpid(-1, NULL, WNOHANG) > 0) {
    }
}
