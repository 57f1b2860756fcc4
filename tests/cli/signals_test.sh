# Signals and closed streams while a case runs.
. "$(dirname "$0")/harness.sh"

# interrupted NAME SIGNAL STATUS: a long run gets this signal.
interrupted() {
    "$FOAMPULSE" run "$source/cases/demo/single.yaml" -s solver.rings=384 -s solver.cell="0.2 mm" -j 1 -f -o "$scratch/" \
        >"$scratch/out" 2>"$scratch/err" &
    sleep 1
    kill -"$2" $!
    wait $!
    same "$1" "$3" $?
    if [ -e "$scratch/single.h5" ]; then not_ok "$1: no half result" "single.h5 is there"; else ok "$1: no half result"; fi
}
interrupted "SIGINT" INT 130
interrupted "SIGTERM" TERM 143

# a file opened while standard output is closed must not become standard output
"$FOAMPULSE" run "$source/cases/bench-pad.yaml" -f -o "$scratch/" >&- 2>"$scratch/err"
same "run with stdout closed: status" 4 $?
run show "$scratch/bench-pad.h5"
exits "run with stdout closed: the result is whole" 0
finish
