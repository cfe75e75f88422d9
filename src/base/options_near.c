/* What may have been meant by a word that is none. */
#include "base/options.h"

#include <string.h>

enum { LONGEST_WORD = 64 }; /* options_distance looks no further */

static int smaller(int a, int b)
{
    return a < b ? a : b;
}

int options_distance(const char *a, const char *b)
{
    int n = (int)strnlen(a, LONGEST_WORD), m = (int)strnlen(b, LONGEST_WORD);
    int row[3][LONGEST_WORD + 1]; /* this row of the table and the two before it, in turn */
    for (int j = 0; j <= m; j++) {
        row[0][j] = j;
    }
    for (int i = 1; i <= n; i++) {
        int *now = row[i % 3], *last = row[(i + 2) % 3], *before = row[(i + 1) % 3];
        now[0] = i;
        for (int j = 1; j <= m; j++) {
            int change = last[j - 1] + (a[i - 1] != b[j - 1]);
            now[j] = smaller(change, smaller(last[j], now[j - 1]) + 1);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
                now[j] = smaller(now[j], before[j - 2] + 1);
            }
        }
    }
    return row[n % 3][m];
}

bool options_is_near(const char *typed, const char *candidate)
{
    int allowed = 1 + (int)strlen(candidate) / 4;
    return options_distance(typed, candidate) <= allowed && strlen(typed) > 1;
}
