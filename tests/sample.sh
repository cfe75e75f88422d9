# tests/sample.sh: how many cases a script tries that draws them by lot; see unit/sample.h.

# So many, times SAMPLE_TIMES where that is set; at least two.
sample() { # USUAL
    awk -v usual="$1" -v times="${SAMPLE_TIMES:-1}" 'BEGIN {
        cases = int(usual * times + 1e-6)
        print (cases > 2 ? cases : 2)
    }'
}
