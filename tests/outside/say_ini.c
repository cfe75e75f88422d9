/* Says what the reader of settings files makes of standard input: each value in brackets, then what
 * it returns. check_ini_stand_in.py links it with the library and with what stands in for it. Texts
 * are parted by zero bytes. */
#include <ini.h>
#include <stdio.h>
#include <string.h>

static int say(void *user, const char *section, const char *name, const char *value)
{
    (void)user;
    printf("<%s> <%s> <%s>\n", section, name, value);
    return strchr(value, '!') == NULL; /* a value that is wrong */
}

/* A line of the text that ends with the next zero byte. */
static char *next_line(char *line, int size, void *stream)
{
    int length = 0, letter = 0;
    while (length < size - 1 && letter != '\n') {
        letter = getc(stream);
        if (letter == EOF || letter == '\0') {
            ungetc(letter, stream);
            break;
        }
        line[length++] = (char)letter;
    }
    line[length] = '\0';
    return length ? line : NULL;
}

int main(void)
{
    int letter;
    do {
        printf("returns %d\n", ini_parse_stream(next_line, stdin, say, NULL));
        letter = getchar();
    } while (letter != EOF);
    return 0;
}
