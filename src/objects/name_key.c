#include "objects/name_key.h"

#include "base/utf8.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { MAX_WORDS = 12 };

/* A run of letters, or a number; a sign that counts is a word too. */
struct word {
    char text[40];
    unsigned char length; /* while words are being split; later changes don't keep it */
    bool digits;
};

struct words {
    struct word word[MAX_WORDS];
    int count;
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* One character of UTF-8; moves *text past it. Broken bytes count as blanks. */
static unsigned long next_character(const char **text)
{
    size_t length = utf8_length(*text);
    unsigned long c = length ? utf8_code(*text, length) : ' ';
    *text += length ? length : 1;
    return c;
}

/* Letters with accents, U+00C0 to U+017F, without them; a blank stands for what is no letter. */
static const char plain_letters[] =
    "aaaaaaaceeeeiiiidnooooo ouuuuytsaaaaaaaceeeeiiiidnooooo ouuuuyty"
    "aaaaaaccccccccddddeeeeeeeeeegggggggghhhhiiiiiiiiiiiijjkkk"
    "llllllllllnnnnnnnnnoooooooorrrrrrssssssssttttttuuuuuuuuuuuuwwyyyzzzzzzs";

static const char *const greek_letters[] = {
    "alpha", "beta",   "gamma",   "delta", "epsilon", "zeta",    "eta",  "theta", "iota",
    "kappa", "lambda", "mu",      "nu",    "xi",      "omicron", "pi",   "rho",   "sigma",
    "sigma", "tau",    "upsilon", "phi",   "chi",     "psi",     "omega"};

static const char *greek_letter(unsigned long c)
{
    if (c >= 0x3b1 && c <= 0x3c9) {
        return greek_letters[c - 0x3b1];
    }
    if (c >= 0x391 && c <= 0x3a9) {
        return greek_letters[c - 0x391];
    }
    return NULL;
}

/* Superscript digits; 10 for other characters. */
static int raised_digit(unsigned long c)
{
    if (c == 0xb9 || c == 0x2070 || (c >= 0x2074 && c <= 0x2079)) {
        return c == 0xb9 ? 1 : (int)(c - 0x2070);
    }
    return c == 0xb2 ? 2 : c == 0xb3 ? 3 : 10;
}

static char plain_ascii(char a)
{
    if (a >= 'A' && a <= 'Z') {
        return (char)(a - 'A' + 'a');
    }
    bool kept = (a >= 'a' && a <= 'z') || is_digit(a) || a == '+' || a == '-' || a == '.';
    return kept ? a : (char)(a == '\'' ? 0 : ' ');
}

/* The plain character that c counts as; 0 if it is left out, a blank if it parts words. */
static char plain_character(unsigned long c)
{
    if (c < 0x80) {
        return plain_ascii((char)c);
    }
    if (c >= 0xc0 && c < 0xc0 + sizeof plain_letters - 1) {
        return plain_letters[c - 0xc0];
    }
    if (raised_digit(c) < 10) {
        return (char)('0' + raised_digit(c));
    }
    if (c == 0x2212 || c == 0x2013) {
        return '-';
    }
    return (char)(c == 0x2019 || c == 0xb4 ? 0 : ' ');
}

static void add_letter(struct words *words, char c, bool *open)
{
    bool digit = is_digit(c) || c == '.';
    struct word *last = words->count ? &words->word[words->count - 1] : NULL;
    if (!*open || last->digits != digit) {
        if (words->count == MAX_WORDS) {
            return;
        }
        last = &words->word[words->count++];
        last->length = 0;
        last->digits = digit;
    }
    *open = true;
    if (last->length + 1u < sizeof last->text) {
        last->text[last->length++] = c;
        last->text[last->length] = '\0';
    }
}

/* Catalogues whose numbers are positions, with signs and decimals. */
static bool numbers_are_places(const struct words *words)
{
    static const char *const signs[] = {"pk", "pn", "png", "snr", "snrg"};
    for (size_t i = 0; words->count && i < sizeof signs / sizeof *signs; i++) {
        if (strcmp(words->word[0].text, signs[i]) == 0) {
            return true;
        }
    }
    return false;
}

static void add_sign(struct words *words, char sign, bool *open)
{
    bool counts = words->count && words->word[words->count - 1].digits &&
                  words->count < MAX_WORDS && (sign == '+' || numbers_are_places(words));
    *open = false;
    if (counts) {
        words->word[words->count++] = (struct word){.text = {sign}, .length = 1};
    }
}

static void split_words(struct words *words, const char *name)
{
    bool open = false;
    while (*name) {
        unsigned long c = next_character(&name);
        const char *greek = greek_letter(c);
        if (greek) {
            open = false;
            for (; *greek; greek++) {
                add_letter(words, *greek, &open);
            }
            continue;
        }
        char plain = plain_character(c);
        if (plain == '+' || plain == '-') {
            add_sign(words, plain, &open);
        } else if (plain == '.' &&
                   !(open && words->word[words->count - 1].digits && is_digit(*name))) {
            open = false;
        } else if (plain == ' ') {
            open = false;
        } else if (plain) {
            add_letter(words, plain, &open);
        }
    }
}

static void drop_words(struct words *words, int first, int count)
{
    memmove(&words->word[first], &words->word[first + count],
            sizeof *words->word * (size_t)(words->count - first - count));
    words->count -= count;
}

static void drop_zeros(struct words *words)
{
    for (int i = 0; i < words->count; i++) {
        char *text = words->word[i].text;
        size_t zeros = 0;
        while (text[zeros] == '0' && is_digit(text[zeros + 1])) {
            zeros++;
        }
        memmove(text, text + zeros, strlen(text) + 1 - zeros);
    }
}

/* What people write for the sign of a catalogue, blanks left out. */
static const struct {
    const char *spelling, *sign;
} catalogue_words[] = {
    {"messier", "m"},
    {"caldwell", "c"},
    {"barnard", "b"},
    {"collinder", "cr"},
    {"col", "cr"},
    {"melotte", "mel"},
    {"trumpler", "tr"},
    {"cederblad", "ced"},
    {"vandenbergh", "vdb"},
    {"hipparcos", "hip"},
    {"henrydraper", "hd"},
    {"sharpless", "sh2"},
    {"sh", "sh2"},
    {"palomar", "pal"},
    {"terzan", "ter"},
    {"gliese", "gj"},
    {"gl", "gj"},
    {"lyndsdarknebula", "ldn"},
    {"lyndsbrightnebula", "lbn"},
    {"aco", "abell"},
};

/* "sharpless 2 155", "sh2 155" and "sh2155" have a number of the list in front of their own. */
static void drop_list_number(struct words *words)
{
    struct word *first = &words->word[1];
    if (words->count == 3 && words->word[2].digits && strcmp(first->text, "2") == 0) {
        drop_words(words, 1, 1);
    } else if (words->count == 2 && first->text[0] == '2' && strlen(first->text) == 4) {
        memmove(first->text, first->text + 1, strlen(first->text));
    }
}

/* Turns the words before the first number into the sign of a catalogue. */
static void name_catalogue(struct words *words)
{
    int letters = 0;
    char spelling[60] = "";
    while (letters < words->count && !words->word[letters].digits) {
        if (strlen(spelling) + strlen(words->word[letters].text) >= sizeof spelling) {
            return;
        }
        strcat(spelling, words->word[letters++].text);
    }
    if (letters == 0 || letters == words->count) {
        return;
    }
    for (size_t i = 0; i < sizeof catalogue_words / sizeof *catalogue_words; i++) {
        const char *known = catalogue_words[i].spelling;
        if (*spelling == *known && strcmp(spelling, known) == 0) {
            drop_words(words, 0, letters - 1);
            strcpy(words->word[0].text, catalogue_words[i].sign);
            if (strcmp(catalogue_words[i].sign, "sh2") == 0) {
                drop_list_number(words);
            }
            return;
        }
    }
}

static int compare_endings(const void *a, const void *b)
{
    return strcmp(((const struct name_ending *)a)->key, ((const struct name_ending *)b)->key);
}

static const char *find_ending(const struct name_endings *endings, const char *first,
                               const char *second)
{
    struct name_ending wanted;
    if (strlen(first) + strlen(second) >= sizeof wanted.key) {
        return NULL;
    }
    strcat(strcpy(wanted.key, first), second);
    const struct name_ending *found =
        bsearch(&wanted, endings->item, (size_t)endings->count, sizeof wanted, compare_endings);
    return found ? found->abbreviation : NULL;
}

static bool abbreviate_constellation(struct words *words, const struct name_endings *endings)
{
    for (int size = 2; endings && size >= 1; size--) {
        if (words->count <= size) {
            continue;
        }
        struct word *last = &words->word[words->count - size];
        const char *found = find_ending(endings, last->text, size == 2 ? last[1].text : "");
        if (found) {
            strcpy(last->text, found);
            words->count -= size - 1;
            return true;
        }
    }
    return false;
}

/* The three letters that star lists write for a Greek one ("alf", "ksi"). */
static void spell_greek(struct word *word)
{
    static const char *const odd[][2] = {{"alf", "alpha"}, {"tet", "theta"}, {"ksi", "xi"}};
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        if (strcmp(word->text, odd[i][0]) == 0) {
            strcpy(word->text, odd[i][1]);
            return;
        }
    }
    for (size_t i = 0; i < sizeof greek_letters / sizeof *greek_letters; i++) {
        if (strlen(word->text) == 3 && strncmp(word->text, greek_letters[i], 3) == 0) {
            strcpy(word->text, greek_letters[i]);
            return;
        }
    }
}

/* Words join without a blank, numbers with one. */
static void join_words(char key[NAME_KEY_SIZE], const struct words *words)
{
    size_t length = 0;
    for (int i = 0; i < words->count; i++) {
        const struct word *word = &words->word[i];
        bool blank = i && word->digits && is_digit(key[length ? length - 1 : 0]);
        size_t size = strlen(word->text);
        if (length + blank + size >= NAME_KEY_SIZE) {
            break;
        }
        if (blank) {
            key[length++] = ' ';
        }
        memcpy(key + length, word->text, size);
        length += size;
    }
    key[length] = '\0';
}

void name_key(char key[NAME_KEY_SIZE], const char *name, const struct name_endings *endings)
{
    struct words words;
    words.count = 0;
    split_words(&words, name);
    if (words.count > 1 && strcmp(words.word[0].text, "the") == 0) {
        drop_words(&words, 0, 1);
    }
    drop_zeros(&words);
    name_catalogue(&words);
    if (abbreviate_constellation(&words, endings)) {
        spell_greek(&words.word[0]);
    }
    join_words(key, &words);
}

static void add_ending(struct name_endings *endings, const char *name, const char *abbreviation)
{
    char key[NAME_KEY_SIZE], sign[NAME_KEY_SIZE];
    struct name_ending *ending = &endings->item[endings->count];
    name_key(key, name, NULL);
    name_key(sign, abbreviation, NULL);
    if (strlen(key) < sizeof ending->key && strlen(sign) < sizeof ending->abbreviation) {
        strcpy(ending->key, key);
        strcpy(ending->abbreviation, sign);
        endings->count++;
    }
}

void name_endings_make(struct name_endings *endings, const struct constellations *constellations)
{
    endings->count = 0;
    for (int i = 0; i < constellations->count; i++) {
        const struct constellation *item = &constellations->item[i];
        add_ending(endings, item->name, item->abbreviation);
        add_ending(endings, item->genitive, item->abbreviation);
        add_ending(endings, item->abbreviation, item->abbreviation);
    }
    qsort(endings->item, (size_t)endings->count, sizeof *endings->item, compare_endings);
}

int name_key_cut_kind(char *key)
{
    static const char *const kinds[] = {
        "galaxy",      "galaxies", "nebula",           "starcluster", "globularcluster",
        "opencluster", "cluster",  "supernovaremnant", "starcloud",   "group"};
    size_t length = strlen(key);
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        size_t size = strlen(kinds[i]);
        if (length > size && strcmp(key + length - size, kinds[i]) == 0) {
            key[length - size] = '\0';
            return 1;
        }
    }
    return 0;
}

static int least(int a, int b)
{
    return a < b ? a : b;
}

int name_key_distance(const char *a, const char *b, int limit)
{
    int la = (int)strlen(a), lb = (int)strlen(b);
    if (abs(la - lb) > limit || la >= NAME_KEY_SIZE || lb >= NAME_KEY_SIZE) {
        return limit + 1;
    }
    int rows[3][NAME_KEY_SIZE];
    int *before = rows[0], *last = rows[1], *now = rows[2];
    for (int j = 0; j <= lb; j++) {
        last[j] = j;
    }
    for (int i = 1; i <= la; i++) {
        int best = now[0] = i;
        for (int j = 1; j <= lb; j++) {
            now[j] = least(least(last[j], now[j - 1]) + 1, last[j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
                now[j] = least(now[j], before[j - 2] + 1);
            }
            best = least(best, now[j]);
        }
        if (best > limit) {
            return limit + 1;
        }
        int *spare = before;
        before = last;
        last = now;
        now = spare;
    }
    return last[lb];
}
