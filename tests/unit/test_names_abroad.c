#include "base/catalogue_table.h"
#include "base/table.h"
#include "objects/name_key.h"
#include "objects/names_abroad.h"
#include "objects_fixture.h"
#include "scratch.h"

#include <check.h>
#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

static const struct object *look_up(const char *name)
{
    struct error err = {0};
    const struct object *object = objects_look_up(&objects, name, &err);
    ck_assert_msg(object != NULL, "%s: %s", name, err.text);
    return object;
}

/* What people in these countries say (from memory), with and without accents, in several cases. */
START_TEST(names_are_understood)
{
    static const struct {
        const char *name, *id;
    } known[] = {{"Plejaden", "M 45"},
                 {"Siebengestirn", "M 45"},
                 {"Pléiades", "M 45"},
                 {"pleyades", "M 45"},
                 {"Plejády", "M 45"},
                 {"Zevengesternte", "M 45"},
                 {"Orionnebel", "M 42"},
                 {"nébuleuse d'Orion", "M 42"},
                 {"nebulosa di Orione", "M 42"},
                 {"nebulosa de Órion", "M 42"},
                 {"Wielka Mgławica w Orionie", "M 42"},
                 {"wielka mglawica w orionie", "M 42"},
                 {"Mlhovina v Orionu", "M 42"},
                 {"Orionnebulosan", "M 42"},
                 {"Galaktyka Andromedy", "M 31"},
                 {"galaxie d’Andromède", "M 31"},
                 {"Möwennebel", "IC 2177"},
                 {"mowennebel", "IC 2177"},
                 {"Moewennebel", "IC 2177"},
                 {"nébuleuse de l'œil de chat", "NGC 6543"},
                 {"nebuleuse de l'oeil de chat", "NGC 6543"},
                 {"Tête de cheval", "B 33"},
                 {"Pferdekopf", "B 33"},
                 {"Pferdekopfnebel", "B 33"},
                 {"Grosse Magellansche Wolke", "LMC"},
                 {"Große Magellansche Wolke", "LMC"},
                 {"Paardenkop", "B 33"},
                 {"Cirrusnebel", "Sh2-103"},
                 {"Activity", NULL},
                 {"Schmuckkästchen", "NGC 4755"},
                 {"Kohlensack", "C 99"},
                 {"baudrier d'Orion", "Cr 70"},
                 {"Galaktyka Koło Wozu", "PGC 2248"},
                 {"nebulosa del camaron", "IC 4628"},
                 {"Gemma", "Alphecca"},
                 {"Deneb Kaitos", "Diphda"},
                 {"Becrux", "Mimosa"},
                 {"Alfa Centauri", "Rigil Kentaurus"},
                 {"Beteigeuze", "Betelgeuse"},
                 {"Betelgeza", "Betelgeuse"},
                 {"Wega", "Vega"},
                 {"Atair", "Altair"},
                 {"étoile polaire", "Polaris"},
                 {"Polstjärnan", "Polaris"},
                 {"polarka", "Polaris"},
                 {"Kłos", "Spica"}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        struct error err = {0};
        if (known[i].id) {
            ck_assert_msg(strcmp(look_up(known[i].name)->id, known[i].id) == 0, "%s is %s",
                          known[i].name, look_up(known[i].name)->id);
        } else {
            ck_assert(objects_look_up(&objects, known[i].name, &err) == NULL);
            ck_assert_int_eq(err.code, ERROR_USAGE);
        }
    }
}
END_TEST

static const char *const languages[] = {"de", "fr", "es", "it", "pt", "nl", "pl", "cs", "sv"};
enum { LANGUAGES = sizeof languages / sizeof *languages, MOST_IDS = 400 };

/* A row of the table. */
struct row {
    char id[60], name[120];
    int language;
};

static bool next_row(struct row *row, struct catalogue_table *file)
{
    char language[8];
    if (!table_next(&file->table)) {
        return false;
    }
    table_text(&file->table, file->column[0], row->id, sizeof row->id);
    table_text(&file->table, file->column[1], language, sizeof language);
    table_text(&file->table, file->column[2], row->name, sizeof row->name);
    row->language = 0;
    while (row->language < LANGUAGES && strcmp(language, languages[row->language]) != 0) {
        row->language++;
    }
    ck_assert_msg(row->language < LANGUAGES, "%s: %s", row->name, language);
    return true;
}

static void open_rows(struct catalogue_table *file)
{
    static const char *const columns[] = {"id", "language", "name", NULL};
    ck_assert_int_eq(catalogue_table_open(file, "catalogs", "names-abroad.tsv", columns, NULL), 0);
}

static void check_found(const struct names_abroad *names, const char *name, const char *id)
{
    const char *found = names_abroad_find(names, name);
    ck_assert_msg(found && strcmp(found, id) == 0, "%s is %s, not %s", name, found ? found : "none",
                  id);
}

/* Every row leads to its object, as written and without accents; and where names are asked for,
 * since the English ones go first there. */
START_TEST(every_row_is_found)
{
    struct catalogue_table file;
    struct names_abroad names;
    struct row row;
    int rows = 0;
    ck_assert_int_eq(names_abroad_load(&names, "catalogs", NULL), 0);
    open_rows(&file);
    for (; next_row(&row, &file); rows++) {
        char key[NAME_KEY_SIZE];
        name_key(key, row.name, NULL);
        check_found(&names, row.name, row.id);
        check_found(&names, key, row.id);
        ck_assert_msg(look_up(row.name) == objects_find(&objects, row.id), "%s is %s, not %s",
                      row.name, look_up(row.name)->id, row.id);
    }
    catalogue_table_close(&file);
    ck_assert_int_eq(rows, names.count);
    ck_assert_int_gt(rows, 2200);
    names_abroad_free(&names);
}
END_TEST

/* What is known of each object in which languages. */
struct known_in {
    const struct object *object[MOST_IDS];
    unsigned languages[MOST_IDS];
    int count;
};

static void note_known(struct known_in *known, const struct object *object, int language)
{
    int i = 0;
    while (i < known->count && known->object[i] != object) {
        i++;
    }
    ck_assert_int_lt(i, MOST_IDS);
    known->count += i == known->count;
    known->object[i] = object;
    known->languages[i] |= 1U << language;
}

static bool is_known_everywhere(const struct known_in *known, const struct object *object)
{
    for (int i = 0; i < known->count; i++) {
        if (known->object[i] == object) {
            return known->languages[i] == (1U << LANGUAGES) - 1;
        }
    }
    return false;
}

/* The brightest star with a name that is fainter than the one before it, or as bright and behind.
 */
static const struct object *next_brightest(const struct object *before)
{
    const struct object *next = NULL;
    for (int i = objects.deep_sky; i < objects.count; i++) {
        const struct object *star = &objects.object[i];
        bool named = isupper((unsigned char)star->id[0]) && islower((unsigned char)star->id[1]);
        bool comes_after = !before || star->magnitude > before->magnitude ||
                           (star->magnitude == before->magnitude && star > before);
        if (named && comes_after && (!next || star->magnitude < next->magnitude)) {
            next = star;
        }
    }
    return next;
}

/* In all nine languages: 150 objects, and the 60 brightest stars with names. */
START_TEST(the_best_known_have_names_everywhere)
{
    struct catalogue_table file;
    struct known_in known = {.count = 0};
    struct row row;
    int deep_sky = 0;
    open_rows(&file);
    while (next_row(&row, &file)) {
        note_known(&known, objects_find(&objects, row.id), row.language);
    }
    catalogue_table_close(&file);
    for (int i = 0; i < known.count; i++) {
        ck_assert_ptr_nonnull(known.object[i]);
        deep_sky +=
            known.object[i]->type != OBJECT_STAR && is_known_everywhere(&known, known.object[i]);
    }
    ck_assert_int_ge(deep_sky, 150);
    const struct object *star = NULL;
    for (int i = 0; i < 60; i++) {
        star = next_brightest(star);
        ck_assert_msg(is_known_everywhere(&known, star), "%s", star->id);
    }
    ck_assert_str_eq(star->id, "Rasalhague");
}
END_TEST

START_TEST(planets_stay_planets)
{
    struct error err = {0};
    ck_assert(objects_look_up(&objects, "Saturn", &err) == NULL);
    ck_assert_str_eq(look_up("Saturnnebel")->id, "NGC 7009");
}
END_TEST

START_TEST(the_table_may_be_missing_but_not_broken)
{
    struct names_abroad names;
    struct error err = {0};
    ck_assert_int_eq(names_abroad_load(&names, scratch_folder, &err), 0);
    ck_assert(names_abroad_find(&names, "Plejaden") == NULL);
    static const char bad[] = "id\tlabel\nM 45\tPlejaden\n";
    scratch_write("names-abroad.tsv", bad, sizeof bad - 1);
    ck_assert_int_eq(names_abroad_load(&names, scratch_folder, &err), ERROR_INPUT);
    ck_assert(strstr(err.text, "names-abroad.tsv") != NULL);
    static const char good[] = "id\tlanguage\tname\nM 45\tde\tPlejaden\n";
    scratch_write("names-abroad.tsv", good, sizeof good - 1);
    ck_assert_int_eq(names_abroad_load(&names, scratch_folder, &err), 0);
    check_found(&names, "PLEJADEN", "M 45");
    ck_assert(names_abroad_find(&names, "") == NULL);
    names_abroad_free(&names);
}
END_TEST

Suite *names_abroad_suite(void)
{
    Suite *suite = suite_create("names_abroad");
    TCase *bundled = tcase_create("bundled");
    tcase_add_unchecked_fixture(bundled, objects_fixture_load, objects_fixture_free);
    tcase_set_timeout(bundled, 240); /* each name goes through all names */
    tcase_add_test(bundled, names_are_understood);
    tcase_add_test(bundled, every_row_is_found);
    tcase_add_test(bundled, the_best_known_have_names_everywhere);
    tcase_add_test(bundled, planets_stay_planets);
    suite_add_tcase(suite, bundled);
    tcase_add_test(scratch_case(suite, "own"), the_table_may_be_missing_but_not_broken);
    return suite;
}
