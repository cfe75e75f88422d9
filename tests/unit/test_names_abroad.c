#include "base/catalogue_table.h"
#include "base/table.h"
#include "objects/name_key.h"
#include "objects/names_abroad.h"
#include "objects_fixture.h"
#include "scratch.h"

#include <check.h>
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

/* Every row leads to its object, as written and without accents; a share of them also where names
 * are asked for, since the English ones go first there. */
START_TEST(every_row_is_found)
{
    static const char *const columns[] = {"id", "language", "name", NULL};
    enum { SHARE = 32 };
    struct catalogue_table file;
    int rows = 0;
    ck_assert_int_eq(catalogue_table_open(&file, "catalogs", "names-abroad.tsv", columns, NULL), 0);
    for (; table_next(&file.table); rows++) {
        char id[60], language[8], name[120], key[NAME_KEY_SIZE], found[NAMES_ABROAD_ID];
        table_text(&file.table, file.column[0], id, sizeof id);
        table_text(&file.table, file.column[1], language, sizeof language);
        table_text(&file.table, file.column[2], name, sizeof name);
        ck_assert_msg(strstr("de fr es it pt nl pl cs sv", language) && strlen(language) == 2, "%s",
                      language);
        if (rows % 4 == 0) { /* each search reads the table */
            ck_assert_int_eq(names_abroad_find(found, "catalogs", name, NULL), 0);
            ck_assert_msg(strcmp(found, id) == 0, "%s is %s, not %s", name, found, id);
        }
        name_key(key, name, NULL);
        ck_assert_int_eq(names_abroad_find(found, "catalogs", key, NULL), 0);
        ck_assert_msg(strcmp(found, id) == 0, "%s is %s, not %s", key, found, id);
        if (rows % SHARE == 0) {
            ck_assert_msg(look_up(name) == objects_find(&objects, id), "%s is %s, not %s", name,
                          look_up(name)->id, id);
        }
    }
    catalogue_table_close(&file);
    ck_assert_int_gt(rows, 1600);
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
    char id[NAMES_ABROAD_ID];
    struct error err = {0};
    ck_assert_int_eq(names_abroad_find(id, scratch_folder, "Plejaden", &err), 0);
    ck_assert_str_eq(id, "");
    static const char bad[] = "id\tlabel\nM 45\tPlejaden\n";
    scratch_write("names-abroad.tsv", bad, sizeof bad - 1);
    ck_assert_int_eq(names_abroad_find(id, scratch_folder, "Plejaden", &err), ERROR_INPUT);
    ck_assert(strstr(err.text, "names-abroad.tsv") != NULL);
    static const char good[] = "id\tlanguage\tname\nM 45\tde\tPlejaden\n";
    scratch_write("names-abroad.tsv", good, sizeof good - 1);
    ck_assert_int_eq(names_abroad_find(id, scratch_folder, "PLEJADEN", &err), 0);
    ck_assert_str_eq(id, "M 45");
    ck_assert_int_eq(names_abroad_find(id, scratch_folder, "", &err), 0);
    ck_assert_str_eq(id, "");
}
END_TEST

Suite *names_abroad_suite(void)
{
    Suite *suite = suite_create("names_abroad");
    TCase *bundled = tcase_create("bundled");
    tcase_add_unchecked_fixture(bundled, objects_fixture_load, objects_fixture_free);
    tcase_set_timeout(bundled, 240); /* each name goes through all tables */
    tcase_add_test(bundled, names_are_understood);
    tcase_add_test(bundled, every_row_is_found);
    tcase_add_test(bundled, planets_stay_planets);
    suite_add_tcase(suite, bundled);
    tcase_add_test(scratch_case(suite, "own"), the_table_may_be_missing_but_not_broken);
    return suite;
}
