# Sourced by tests/cli/*_test.sh: runs the program, compares what it did, prints "ok NAME" or "not ok NAME: WHY".
# $FOAMPULSE is the program, $scratch a folder of its own for each script.
set -u
source=$(cd "$(dirname "$0")/../.." && pwd)
: "${FOAMPULSE:=$source/.build/release/foampulse}"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
unset NO_COLOR FOAMPULSE_ISA FOAMPULSE_DATA
export TERM=xterm LC_ALL=C
failures=0

ok() {
    echo "ok $1"
}

not_ok() {
    echo "not ok $1: $2"
    failures=$((failures + 1))
}

# run [ARGUMENT...]: runs the program; its output goes to $scratch/out and $scratch/err, its status to $status.
run() {
    "$FOAMPULSE" "$@" >"$scratch/out" 2>"$scratch/err" </dev/null
    status=$?
}

# exits NAME STATUS: the last run exited so.
exits() {
    if [ "$status" = "$2" ]; then ok "$1"; else not_ok "$1" "status $status, not $2: $(cat "$scratch/err")"; fi
}

# says NAME out|err TEXT: the text stands in what the last run wrote there.
says() {
    if grep -qF -- "$3" "$scratch/$2"; then ok "$1"; else not_ok "$1" "no '$3' in: $(cat "$scratch/$2")"; fi
}

# silent NAME out|err: the last run wrote nothing there.
silent() {
    if [ -s "$scratch/$2" ]; then not_ok "$1" "wrote: $(cat "$scratch/$2")"; else ok "$1"; fi
}

# same NAME WANTED GOT: two texts are equal.
same() {
    if [ "$2" = "$3" ]; then ok "$1"; else not_ok "$1" "'$3', not '$2'"; fi
}

finish() {
    exit $((failures > 0))
}
