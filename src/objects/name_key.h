/* objects/name_key.h: spellings of a name that mean the same get the same key. */
#ifndef ALIDADE_OBJECTS_NAME_KEY_H
#define ALIDADE_OBJECTS_NAME_KEY_H

#include "objects/constellations.h"

enum { NAME_KEY_SIZE = 96 };

/* The lower-case words that a name may end on instead of a constellation's abbreviation, sorted.
 * Starts as all zeros; holds no memory of its own. */
struct name_endings {
    struct name_ending {
        char key[28];         /* genitive or name without blanks: "ursaemajoris" */
        char abbreviation[4]; /* "uma" */
    } item[3 * CONSTELLATIONS_MAX];
    int count;
};

void name_endings_make(struct name_endings *endings, const struct constellations *constellations);

/* Writes the key of a name (UTF-8, any length; cut off past NAME_KEY_SIZE). Letter case, blanks,
 * punctuation, accents and a leading "the" do not count; Greek letters are spelt out; words for a
 * catalogue become its sign ("Messier 31", "m31": "m31"; "Sharpless 2-155", "sh2 155": "sh2 155");
 * leading zeros go; a constellation at the end becomes its abbreviation ("alf Lyrae", "α Lyr":
 * "alphalyr"). The key of a text without letters or digits is empty. endings may be NULL. */
void name_key(char key[NAME_KEY_SIZE], const char *name, const struct name_endings *endings);

/* Cuts a last word such as "nebula", "galaxy", "cluster" off a key, unless nothing would remain:
 * "rosettenebula" becomes "rosette". Returns whether there was one. */
int name_key_cut_kind(char *key);

/* Letters to insert, drop, change or swap with a neighbour to turn a into b (optimal string
 * alignment distance); any number above limit may come out as limit + 1. */
int name_key_distance(const char *a, const char *b, int limit);

#endif
