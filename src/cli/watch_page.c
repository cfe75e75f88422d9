#include "cli/watch_page.h"

#include "cli/index_place.h"
#include "cli/plan_options.h"
#include "cli/terminal.h"
#include "page/live_address.h"
#include "page/live_qr.h"

bool watch_page_read(void *member, const char *text)
{
    *(const char **)member = text;
    return live_address_is_one(text);
}

/* The tables are for targets that are called by their names: without them it goes on. Pictures are
 * read by the reader of the watch. */
static int open_own_engine(struct watch_page *page, const struct solver_settings *settings,
                           const struct frame_reader *reader, struct error *err)
{
    struct solve_wish unused = {0};
    struct solver_settings shared = *settings;
    char folder[4096];
    shared.reading.no_cage = true;
    int code = open_engine(&page->engine, &unused, &shared, err);
    page->engine.reader = reader;
    if (!code && catalogs_place(folder, sizeof folder, settings->catalogs, NULL) == 0) {
        code = job_engine_add_objects(&page->engine, folder, err);
    }
    return code;
}

int watch_page_open(struct watch_page *page, const char *address,
                    const struct solver_settings *settings, const struct frame_reader *reader,
                    const struct job_watch_wish *wish, struct error *err)
{
    int code = open_own_engine(page, settings, reader, err);
    page->wish = (struct live_wish){.address = address,
                                    .engine = &page->engine,
                                    .watch = wish,
                                    .own_offset_min = plan_options_own_offset_min()};
    return code ? code : live_open(&page->live, &page->wish, err);
}

void watch_page_close(struct watch_page *page)
{
    live_close(page->live);
    page->live = NULL;
    page->engine.reader = NULL; /* the watch's, which closes it */
    job_engine_close(&page->engine);
}

void watch_page_show(FILE *out, const struct watch_page *page, const struct watch_style *style)
{
    const char *url = live_url(page->live);
    struct error err = {0};
    bool shared = live_is_shared(page->live);
    if (style->json) {
        fprintf(stderr, "alidade watch: the page is at %s\n", url);
        return;
    }
    if (style->terminal && style->red) {
        terminal_red(out, true);
    }
    fprintf(out, "The page is at %s%s\n", url,
            shared ? " (whoever has this link may use it)" : ", for this computer alone.");
    if (shared && style->terminal && live_qr_write(out, url, &err)) {
        fprintf(stderr, "alidade watch: %s\n", err.text);
    }
    if (style->terminal && style->red) {
        terminal_red(out, false);
    }
    fflush(out);
}
