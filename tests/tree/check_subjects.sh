#!/usr/bin/env bash
# The subjects of the commits after version 0.1.0 have at most 72 characters, so that one line shows
# each (common practice, no source); a body is parted from the subject by an empty line.
set -u
export LC_ALL=C.UTF-8
version_0_1_0=d6a45970ac0c
too_late=' 3cea320d6 ' # found when others had built on it
git rev-parse --git-dir >/dev/null 2>&1 || { echo "not a git checkout"; exit 77; }
git merge-base --is-ancestor "$version_0_1_0" HEAD 2>/dev/null ||
    { echo "no version 0.1.0 among the commits of this checkout"; exit 77; }

count=0 faults=0
while read -r commit; do
    { read -r subject; read -r second; } < <(git log -1 --format=%B "$commit")
    count=$((count + 1))
    short=${commit:0:9}
    [[ $too_late = *" $short "* ]] && continue
    [ ${#subject} -le 72 ] || { echo "$short: ${#subject} characters: $subject"; faults=1; }
    [ -z "$second" ] || { echo "$short: no empty line behind the subject: $subject"; faults=1; }
done < <(git rev-list --no-merges "$version_0_1_0..HEAD")
[ "$faults" -eq 0 ] && echo "$count commits since version 0.1.0, each subject within 72 characters"
exit "$faults"
