/* Names, places and epochs are those of the catalogues' own published descriptions, from memory;
 * tests/outside/check_catalogue_forms.py holds Hipparcos, HYG, UCAC4 and the Bright Star table
 * against places of well known stars. */
#include "known_tables.h"

#include <string.h>

/* The more particular come first. */
static const struct known_columns columns[] = {
    {"HYG", 2000, {"rarad", "decrad", "proper"}, "h", NULL},
    {"Gaia DR1", 2015, {"sourceid", "photgmeanmag", "tycho2id"}, "deg", NULL},
    {"Gaia DR2", 2015.5, {"sourceid", "photgmeanmag", "priamflags"}, "deg", NULL},
    {"Gaia DR2", 2015.5, {"sourceid", "photgmeanmag", "teffval"}, "deg", NULL},
    {"Gaia DR2", 2015.5, {"sourceid", "photgmeanmag", "radiusval"}, "deg", NULL},
    {"Gaia DR2", 2015.5, {"sourceid", "photgmeanmag", "agval"}, "deg", NULL},
    {"Gaia DR2", 2015.5, {"gaiadr2sourceid"}, "deg", NULL},
    {"Gaia DR3", 2016, {"sourceid", "photgmeanmag"}, "deg", NULL},
    {"Gaia DR3", 2016, {"source", "raicrs", "deicrs", "gmag"}, "deg", NULL},
    {"Gaia EDR3", 2016, {"gaiaedr3sourceid"}, "deg", NULL},
    {"Gaia DR3", 2016, {"gaiadr3sourceid"}, "deg", NULL},
    {"Hipparcos", 1991.25, {"hip", "rarad", "derad", "hpmag"}, "rad", NULL},
    {"Hipparcos", 1991.25, {"hip", "raicrs", "deicrs", "vmag", "plx"}, "deg", NULL},
    {"Hipparcos", 1991.25, {"hip", "radeg", "dedeg", "vmag", "plx"}, "deg", NULL},
    {"Hipparcos", 1991.25, {"hipnumber", "radeg", "decdeg", "vmag"}, "deg", NULL},
    {"Tycho-2", 2000, {"tyc1", "tyc2", "tyc3", "ramdeg", "demdeg"}, "deg", NULL},
    {"Tycho-2", 1991.25, {"tyc1", "tyc2", "tyc3", "raicrs", "vtmag"}, "deg", NULL},
    {"UCAC4", 2000, {"fmag", "amag", "pmra"}, "deg", "fmag"},
    {"APASS", 2000, {"radeg", "decdeg", "johnsonvv"}, "deg", "johnsonvv"},
    {"Bright Star Catalogue", 2000, {"hr", "raj2000", "dej2000", "vmag"}, NULL, NULL},
};

/* In a pattern d is a digit, n one of " 0-9.+-", ? anything, and all else itself; the line may go
 * on behind it. */
static const struct known_lines lines[] = {
    {"Hipparcos", 1991.25, "H|nnnnnnnnnnnn|?|nn nn nnnnn|nnn nn nnnn|", '|',
     "-,hip,-,rahms:h:m:s,dedms:d:m:s,vmag,-,-,radeg:deg,dedeg:deg,-,plx,pmra:mas/yr,pmde:mas/yr,"
     "-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,b_v,"
     "-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-",
     NULL},
    {"Tycho-2", 2000, "dddd ddddd d|?|nnnnnnnnnnnn|nnnnnnnnnnnn|nnnnnnn|nnnnnnn|", '|',
     "tyc,-,ramdeg:deg,demdeg:deg,pmra:mas/yr,pmde:mas/yr,-,-,-,-,-,-,-,-,-,-,-,btmag,-,vtmag,"
     "-,-,-,-,radeg:deg,dedeg:deg,-,-,-,-,-,-",
     NULL},
    {"UCAC4", 2000, "ddd-dddddd|ddd.ddddddd?dd.ddddddd ", 0, NULL,
     "Byte-by-byte Description of file: ucac4\n"
     "----------\n"
     "----------\n"
     "  1- 10 A10   ---    id\n"
     " 12- 22 F11.7 deg    ra\n"
     " 23- 33 F11.7 deg    dec\n"
     " 64- 69 F6.3  mag    vmag  ?=20.000 between V and R\n"
     "103-110 F8.1  mas/yr pmra\n"
     "111-119 F9.1  mas/yr pmdec\n"
     "----------\n"},
    {"Bright Star Catalogue", 2000,
     "nnnn????????????????????????????????????????????????????????"
     "dddddd.d?dddddddddddd.d?dddddd",
     0, NULL,
     "Byte-by-byte Description of file: catalog\n"
     "----------\n"
     "----------\n"
     "  1-  4 I4    ---       hr\n"
     " 76- 77 I2    h         RAh\n"
     " 78- 79 I2    min       RAm\n"
     " 80- 83 F4.1  s         RAs\n"
     " 84     A1    ---       DE-\n"
     " 85- 86 I2    deg       DEd\n"
     " 87- 88 I2    arcmin    DEm\n"
     " 89- 90 I2    arcsec    DEs\n"
     "103-107 F5.2  mag       vmag\n"
     "110-114 F5.2  mag       b_v\n"
     "149-154 F6.3  arcsec/yr pmra\n"
     "155-160 F6.3  arcsec/yr pmdec\n"
     "----------\n"},
};

static bool has_column(const struct column_list *list, const char *name)
{
    for (int i = 0; i < list->count; i++) {
        if (strcmp(list->column[i].plain, name) == 0) {
            return true;
        }
    }
    return false;
}

const struct known_columns *known_by_columns(const struct column_list *list)
{
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++) {
        bool all = true;
        for (int n = 0; n < KNOWN_NAMES && columns[i].needs[n] && all; n++) {
            all = has_column(list, columns[i].needs[n]);
        }
        if (all) {
            return &columns[i];
        }
    }
    return NULL;
}

static bool match_line(const char *pattern, const char *line, const char *end)
{
    for (; *pattern; pattern++, line++) {
        if (line >= end) {
            return false;
        }
        bool digit = *line >= '0' && *line <= '9';
        bool good = *pattern == 'd'   ? digit
                    : *pattern == 'n' ? digit || strchr(" .+-", *line) != NULL
                    : *pattern == '?' ? true
                                      : *pattern == *line;
        if (!good || *line == '\0') {
            return false;
        }
    }
    return true;
}

const struct known_lines *known_by_line(const char *line, const char *end)
{
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        if (match_line(lines[i].pattern, line, end)) {
            return &lines[i];
        }
    }
    return NULL;
}
