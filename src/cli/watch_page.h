/* cli/watch_page.h: the page of watch, for telephones. */
#ifndef ALIDADE_CLI_WATCH_PAGE_H
#define ALIDADE_CLI_WATCH_PAGE_H

#include "base/options.h"
#include "cli/open_engine.h"
#include "cli/watch_report.h"
#include "page/live.h"

#include <stdio.h>

/* A row of a table of options, for a struct with that member, a const char pointer. */
#define WATCH_PAGE_OPTION(settings, member)                                                        \
    {                                                                                              \
        .name = "page", .kind = OPTION_OPTIONAL, .argument = "[ADDRESS:PORT]",                     \
        .help = "serve a page with the next move, for a telephone: on this computer alone "        \
                "(127.0.0.1:8470), or at that address of it, with a key in the link",              \
        .read = watch_page_read, .expected = "ADDRESS:PORT like 192.168.1.20:8470",                \
        .store = offsetof(struct settings, member)                                                 \
    }

bool watch_page_read(void *member, const char *text);

/* Starts as all zeros. */
struct watch_page {
    struct job_engine engine; /* its own */
    struct live_wish wish;
    struct live *live; /* NULL: there is none */
};

/* reader (NULL: none) and wish are borrowed until watch_page_close. Errors as open_engine and
 * live_open. */
int watch_page_open(struct watch_page *page, const char *address,
                    const struct solver_settings *settings, const struct frame_reader *reader,
                    const struct job_watch_wish *wish, struct error *err);
void watch_page_close(struct watch_page *page);

/* Tells where it is: as a link, and on a terminal as a code for those that others can reach. */
void watch_page_show(FILE *out, const struct watch_page *page, const struct watch_style *style);

#endif
