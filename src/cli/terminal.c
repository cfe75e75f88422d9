#include "cli/terminal.h"

#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

int terminal_columns(FILE *out)
{
    enum { LEAST = 24, MOST = 100, USUAL = 78 };
    struct winsize size;
    if (!isatty(fileno(out)) || ioctl(fileno(out), TIOCGWINSZ, &size) != 0 || size.ws_col == 0) {
        return USUAL;
    }
    return size.ws_col < LEAST ? LEAST : size.ws_col > MOST ? MOST : size.ws_col;
}
