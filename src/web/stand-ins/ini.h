/* As much of the library that reads settings files as src/rig uses: the same call and the same
 * answers, which tests/outside/check_ini_stand_in.py compares with the library's. */
#ifndef ALIDADE_WEB_STAND_INS_INI_H
#define ALIDADE_WEB_STAND_INS_INI_H

/* Puts the next line, at most size - 1 bytes and a zero, into line; NULL at the end. */
typedef char *(*ini_reader)(char *line, int size, void *stream);

/* Gets each "name = value" with the section that it stands in; 0: it is wrong. */
typedef int (*ini_handler)(void *user, const char *section, const char *name, const char *value);

/* Returns 0, or the number of the first line that is wrong. */
int ini_parse_stream(ini_reader reader, void *stream, ini_handler handler, void *user);

#endif
