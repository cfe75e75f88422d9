#!/usr/bin/env bash
# A night spread over processes: by GNU parallel, and as an array of jobs on a Slurm of one node, started
# here for the test alone. Both times one task is killed in the middle of its work and its share done
# again; then every frame has one line, and a review of the lines counts every frame once.
# usage: tests/scale/check_cluster.sh BUILD [FRAMES [NUMBERS]]
#   FRAMES   200; above 2,000 they are links to a few files instead of copies, as many as one likes
#   NUMBERS  file that key and value of what was measured are added to
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$(realpath "${1:-build}") frames=${2:-200} numbers=${3:-/dev/null}
shares=10
export ALIDADE_INDEX=$build/hipparcos.alidx PATH=$build:$PATH
work=$(mktemp -d)
started=() # processes of this test, in the order of their start
finish() {
    local i
    for ((i = ${#started[@]} - 1; i >= 0; i--)); do
        kill "${started[i]}" 2>/dev/null
        wait "${started[i]}" 2>/dev/null
    done
    rm -rf "$work"
}
trap finish EXIT
fail() {
    echo "$*"
    exit 1
}
command -v parallel >/dev/null || {
    echo "GNU parallel is not installed (Debian: parallel)"
    exit 77
}

# Copies with a tail of their own, which no reader minds: frames are known by their content.
"$build/demo/render" --start 2026-02-24T19:31:00 --azimuth 200 --altitude 31 --focal 250 --pixel 24.6 \
    --size 900x600 --fwhm 2.2 --frames 5 --interval 5 --out "$work/%02d.jpg" >/dev/null || exit 1
mkdir "$work/night"
for ((i = 0; i < frames; i++)); do
    name=$work/night/$(printf %06d "$i").jpg
    if ((frames > 2000)); then
        ln "$work/0$((i % 5 + 1)).jpg" "$name" || exit 1
    else
        cp "$work/0$((i % 5 + 1)).jpg" "$name" || exit 1
        printf %06d "$i" >>"$name"
    fi
done
find "$work/night" -name '*.jpg' | sort >"$work/list"

# What one task does, of any scheduler: lines come under their own name when all are there. A frame
# that does not solve (exit 1) has its line, too.
cat >"$work/share" <<'EOF'
#!/bin/bash
# usage: share NUMBER SHARES LIST LINES
awk -v n="$1" -v shares="$2" 'NR % shares == n % shares' "$3" >"$4/$1.names"
xargs -d '\n' -n 500 alidade solve --json --threads 1 <"$4/$1.names" >"$4/$1.part"
code=$?
[ $code -eq 0 ] || [ $code -eq 123 ] || exit $code
[ "$(wc -l <"$4/$1.part")" -eq "$(wc -l <"$4/$1.names")" ] && mv "$4/$1.part" "$4/$1.jsonl"
EOF
chmod +x "$work/share"

# NAME: lines of all shares against the list, and what a review of them counts.
check_lines() {
    local lines=$work/$1
    cat "$lines"/*.jsonl >"$lines/merged"
    sed -E 's/^\{"frame": "([^"]*)".*\}$/\1/' "$lines/merged" | sort >"$lines/got"
    cmp -s "$lines/got" "$work/list" || {
        diff "$lines/got" "$work/list" | head -5
        fail "$1: frames are lost or there twice"
    }
    local unsolved counted expected=$frames
    unsolved=$(grep -vc '"solved": true' "$lines/merged")
    [ "$unsolved" -eq 0 ] || fail "$1: $unsolved frames are not solved"
    ((frames > 2000)) && expected=5 # the same few contents, each of which counts once
    counted=$(alidade review --from "$lines/merged" | sed -nE '1s/^Keep [0-9]+ of ([0-9]+) frames.*/\1/p')
    [ "$counted" = "$expected" ] || fail "$1: a review counts ${counted:-no} frames in place of $expected"
}
# Kills one task when it is in the middle of its share. LINES
kill_one() {
    local tries name victim
    for ((tries = 0; tries < 600; tries++)); do
        for name in "$1"/*.part; do
            [ -s "$name" ] || continue
            # xargs and its alidade, which no other share has: its output is this file.
            for victim in $(pgrep -x alidade); do
                if [ "$(readlink "/proc/$victim/fd/1")" = "$name" ]; then
                    kill -9 "$victim" && return
                fi
            done
        done
        sleep 0.05
    done
    fail "no task to kill"
}

# ---- GNU parallel ----

run_parallel() { # LINES JOBS
    seq 1 $shares | parallel --will-cite --jobs "$2" --joblog "$1/tasks" --resume-failed \
        "$work/share" {} $shares "$work/list" "$1"
}
mkdir "$work/parallel"
run_parallel "$work/parallel" 2 2>/dev/null &
runner=$!
kill_one "$work/parallel"
wait $runner && fail "parallel: nobody noticed the task that was killed"
done_first=$(find "$work/parallel" -name '*.jsonl' | wc -l)
[ "$done_first" -eq $((shares - 1)) ] || fail "parallel: $done_first of $shares shares outlived one task"
run_parallel "$work/parallel" 2 || fail "parallel: the share that was killed is not done again"
check_lines parallel
said="$frames frames by GNU parallel"

# One process and two, on a tenth.
seconds() { # JOBS
    local start
    mkdir -p "$work/timed-$1"
    start=$(date +%s.%N)
    seq 1 "$1" | parallel --will-cite --jobs "$1" "$work/share" {} $shares "$work/list" "$work/timed-$1"
    awk -v a="$start" -v b="$(date +%s.%N)" -v jobs="$1" 'BEGIN { print (b - a) / jobs }'
}
if [ "$numbers" != /dev/null ]; then
    one=$(seconds 1) two=$(seconds 2)
    awk -v a="$one" -v b="$two" 'BEGIN { printf "scale.process_gain\t%.3f\n", a / b }' >>"$numbers"
fi

# ---- Slurm ----

for program in munged slurmctld slurmd sbatch scontrol squeue scancel; do
    PATH=$PATH:/usr/sbin command -v $program >/dev/null || {
        echo "$said; no Slurm is installed (Debian: slurmctld, slurmd, slurm-client, munge)"
        exit 0
    }
done
[ "$(id -u)" -eq 0 ] || {
    echo "$said; only root can start a Slurm"
    exit 0
}
PATH=$PATH:/usr/sbin
host=$(hostname -s) slurm=$work/slurm
mkdir -m 755 "$slurm" "$slurm/state" "$slurm/spool"
chmod 755 "$work"
dd if=/dev/urandom of="$slurm/key" bs=1024 count=1 2>/dev/null
chmod 400 "$slurm/key"
munged --foreground --force --key-file="$slurm/key" --socket="$slurm/munge" --pid-file="$slurm/munge.pid" \
    --log-file="$slurm/munge.log" --seed-file="$slurm/seed" >/dev/null 2>&1 &
started+=($!)
cat >"$slurm/slurm.conf" <<EOF
ClusterName=night
SlurmctldHost=$host(127.0.0.1)
SlurmctldPort=26817
SlurmdPort=26818
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
CredType=cred/munge
AuthInfo=socket=$slurm/munge
StateSaveLocation=$slurm/state
SlurmdSpoolDir=$slurm/spool
SlurmctldPidFile=$slurm/ctld.pid
SlurmdPidFile=$slurm/slurmd.pid
SlurmctldLogFile=$slurm/ctld.log
SlurmdLogFile=$slurm/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SwitchType=switch/none
MpiDefault=none
JobAcctGatherType=jobacct_gather/none
ReturnToService=2
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SlurmdParameters=config_overrides
NodeName=$host NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
EOF
export SLURM_CONF=$slurm/slurm.conf
for ((i = 0; i < 100; i++)); do
    [ -S "$slurm/munge" ] && break
    sleep 0.1
done
slurmctld -D >/dev/null 2>&1 &
started+=($!)
slurmd -D -N "$host" >/dev/null 2>&1 &
started+=($!)
for ((i = 0; i < 300; i++)); do
    sinfo -h -o %t 2>/dev/null | grep -q '^idle' && break
    sleep 0.1
done
sinfo -h -o %t 2>/dev/null | grep -q '^idle' || {
    tail -n 3 "$slurm/ctld.log" "$slurm/slurmd.log" 2>/dev/null
    echo "$said; no Slurm can be started here"
    exit 0
}

cat >"$work/array" <<EOF
#!/bin/bash
exec "$work/share" \$SLURM_ARRAY_TASK_ID $shares "$work/list" "$work/array-lines"
EOF
submit() { # TASKS
    sbatch --wait --array="$1" --ntasks=1 --no-requeue --output=/dev/null "$work/array" >"$work/submitted"
}
mkdir "$work/array-lines"
submit 1-$shares &
runner=$!
kill_one "$work/array-lines"
wait $runner && fail "Slurm: nobody noticed the task that was killed"
missing=$(for ((i = 1; i <= shares; i++)); do [ -e "$work/array-lines/$i.jsonl" ] || echo "$i"; done | paste -sd,)
[[ $missing =~ ^[0-9]+$ ]] || fail "Slurm: shares without lines: ${missing:-none}; expected one"
submit "$missing" || fail "Slurm: the share that was killed is not done again"
check_lines array-lines
for lines in parallel array-lines; do
    comm -13 "$work/$lines/got" "$work/list"
done | wc -l | sed 's/^/scale.lost\t/' >>"$numbers"
for lines in parallel array-lines; do
    uniq -d "$work/$lines/got"
done | wc -l | sed 's/^/scale.twice\t/' >>"$numbers"
cmp -s <(sed 's/"elapsed_ms".*//' "$work/array-lines/merged" | sort) \
    <(sed 's/"elapsed_ms".*//' "$work/parallel/merged" | sort) || fail "Slurm and parallel: lines differ"
echo "$said and as a Slurm array, a task of each killed: every frame has one line, the same"
