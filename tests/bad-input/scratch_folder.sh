# Sourced by checks of bad input: where the programs are, an empty folder to work in that goes away
# at the end, nobody's own settings file, and counters.
cd "$(dirname "$0")/../.." || exit 1
patience=${PATIENCE:-120} # seconds after which a program counts as hanging; sanitizers need more
program=$(realpath "${BUILD:-build}/alidade")
render=$(realpath "${BUILD:-build}/demo/render")
index=$(realpath "${BUILD:-build}/hipparcos.alidx")
export ALIDADE_CATALOGS=$(realpath catalogs) ALIDADE_INDEX=$index
stars=$ALIDADE_CATALOGS/stars.tsv
folder=$(mktemp -d)
trap 'chmod -R u+w "$folder"; rm -rf "$folder"' EXIT
cd "$folder" || exit 1
export XDG_CONFIG_HOME=$folder/config
unset ALIDADE_RIG
cases=0 failures=0
