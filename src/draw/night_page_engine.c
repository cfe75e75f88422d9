/* The night once more, in the report itself: the lines of its frames, and the parts of a page that
 * judge them anew, or one frame more. */
#include "base/json.h"
#include "draw/night_page.h"

#include <string.h>

/* Between these a page (src/web/page/alidade.html) has all that works without the rest of it. */
static const char first_mark[] = "<!--ENGINE-->", last_mark[] = "<!--/ENGINE-->";

static const char *find_text(const char *from, const char *end, const char *text)
{
    size_t length = strlen(text);
    for (; (size_t)(end - from) >= length; from++) {
        from = memchr(from, text[0], (size_t)(end - from) - length + 1);
        if (!from || memcmp(from, text, length) == 0) {
            return from;
        }
    }
    return NULL;
}

bool night_page_engine_find(struct night_page_engine *engine, const char *page, size_t size)
{
    const char *end = page + size, *first = find_text(page, end, first_mark);
    const char *last = first ? find_text(first, end, last_mark) : NULL;
    *engine = (struct night_page_engine){0};
    if (!last) {
        return false;
    }
    engine->parts = first;
    engine->size = (size_t)(last - first);
    return true;
}

/* Text within an element of the page: "<" stands in strings of JSON alone, and must begin no
 * markup.
 */
static void write_in_script(FILE *out, const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (text[i] == '<') {
            fputs("\\u003c", out);
        } else {
            putc(text[i], out);
        }
    }
}

static int write_lines(FILE *out, const struct review *review, struct error *err)
{
    int code = 0;
    fputs("<script type=\"text/plain\" id=\"night-lines\">", out);
    for (int i = 0; !code && i < review->frames; i++) {
        struct json line = {0};
        code = night_frame_write(&line, review->frame[i].frame, err);
        if (!code) {
            write_in_script(out, line.text, line.length);
            putc('\n', out);
        }
        json_free(&line);
    }
    fputs("</script>", out);
    return code;
}

static void put_limit(FILE *out, const char *word, const struct judge_limit *limit)
{
    fprintf(out, "%s\t%.4g,%.4g\n", word, limit->doubtful * 100, limit->drop * 100);
}

/* What the review was asked, a line each: the word that `review` has for it, and a value. */
static void write_wish(FILE *out, const struct review *review)
{
    const struct judge_rules *rules = &review->rules;
    fputs("<script type=\"text/plain\" id=\"night-wish\">target\t", out);
    if (review->has_target) {
        const struct object *object = review->target.object;
        const char *name = object ? object->id : review->target.name;
        write_in_script(out, name, strlen(name));
    }
    putc('\n', out);
    put_limit(out, "in-frame", &rules->target);
    put_limit(out, "stars", &rules->stars);
    put_limit(out, "width", &rules->width);
    put_limit(out, "length", &rules->length);
    put_limit(out, "sky", &rules->sky);
    fputs("</script>", out);
}

int night_page_write_engine(FILE *out, const struct review *review,
                            const struct night_page_engine *engine, struct error *err)
{
    if (!engine) {
        return 0;
    }
    fputs("<section id=\"once-more\"></section>", out);
    int code = write_lines(out, review, err);
    write_wish(out, review);
    fwrite(engine->parts, 1, engine->size, out);
    fputs("<script>document.body.append(Object.assign(document.createElement(\"script\"),{"
          "textContent:"
          "document.getElementById(\"report-source\").textContent}))</script>",
          out);
    return code;
}
