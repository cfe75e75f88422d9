#include "cli/alert_command.h"

#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

enum { OWN = 4 };

static char *make_variable(const char *name, const char *value)
{
    size_t size = strlen(name) + strlen(value) + 2;
    char *text = malloc(size);
    if (text) {
        snprintf(text, size, "%s=%s", name, value);
    }
    return text;
}

/* The list and our own variables, which are its first. Accepts NULL. */
static void free_environment(char **list)
{
    for (int i = 0; list && i < OWN; i++) {
        free(list[i]);
    }
    free(list);
}

/* The environment with our own variables in front. Inverse: free_environment. */
static char **make_environment(const struct alert_message *message)
{
    size_t count = 0;
    while (environ[count]) {
        count++;
    }
    char **list = calloc(count + OWN + 1, sizeof *list);
    if (!list) {
        return NULL;
    }
    list[0] = make_variable("ALIDADE_ALERT", message->key);
    list[1] = make_variable("ALIDADE_TITLE", message->title);
    list[2] = make_variable("ALIDADE_TEXT", message->text);
    list[3] = make_variable("ALIDADE_FRAME", message->frame);
    memcpy(list + OWN, environ, count * sizeof *list);
    if (!list[0] || !list[1] || !list[2] || !list[3]) {
        free_environment(list);
        return NULL;
    }
    return list;
}

/* The command does not inherit that a broken pipe is ignored, as it is in some shells' jobs. */
static int spawn(const char *command, char **environment)
{
    char shell[] = "sh", option[] = "-c";
    char *argument[] = {shell, option, (char *)command, NULL};
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    sigset_t as_usual;
    pid_t process;
    int number = posix_spawn_file_actions_init(&actions);
    if (number) {
        return number;
    }
    number = posix_spawnattr_init(&attributes);
    if (!number) {
        sigemptyset(&as_usual);
        sigaddset(&as_usual, SIGPIPE);
        posix_spawnattr_setsigdefault(&attributes, &as_usual);
        posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGDEF);
        posix_spawn_file_actions_adddup2(&actions, STDERR_FILENO, STDOUT_FILENO);
        posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", 0, 0);
        number = posix_spawn(&process, "/bin/sh", &actions, &attributes, argument, environment);
        posix_spawnattr_destroy(&attributes);
    }
    posix_spawn_file_actions_destroy(&actions);
    return number;
}

int alert_command_start(const char *command, const struct alert_message *message, struct error *err)
{
    char **environment = make_environment(message);
    if (!environment) {
        return error_memory(err);
    }
    int number = spawn(command, environment);
    free_environment(environment);
    return number ? error_set(err, ERROR_OUTPUT, "--on-alert: the command cannot be started: %s",
                              strerror(number))
                  : 0;
}

void alert_command_reap(void)
{
    while (waitpid(-1, NULL, WNOHANG) > 0) {
    }
}
