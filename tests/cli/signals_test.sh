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

# a reader that leaves early, and one that was never there: the result is whole, and nothing is said of the pipe
for reader in "head -n 1" "true"; do
    rm -f "$scratch/bench-pad.h5"
    { "$FOAMPULSE" run "$source/cases/bench-pad.yaml" -q -o "$scratch/" 2>"$scratch/err"; echo $? >"$scratch/status"; } |
        $reader >/dev/null
    status=$(cat "$scratch/status")
    case $status in
    0 | 4) ok "run into \`$reader\`: status" ;; # 0 when all was in the pipe before the reader left
    *) not_ok "run into \`$reader\`: status" "$status" ;;
    esac
    silent "run into \`$reader\`: no message" err
    run show "$scratch/bench-pad.h5"
    exits "run into \`$reader\`: the result is whole" 0
done
{ sleep 0.2; "$FOAMPULSE" list foams --json 2>"$scratch/err"; echo $? >"$scratch/status"; } | true
same "a closed pipe: status" 4 "$(cat "$scratch/status")"
"$FOAMPULSE" run "$source/cases/bench-pad.yaml" --json -f -o "$scratch/" >/dev/full 2>"$scratch/err"
same "run --json to a full disk: status" 4 $?
says "run --json to a full disk: told" err "standard output could not be written: No space left on device"
run show "$scratch/bench-pad.h5"
exits "run --json to a full disk: the result is whole" 0
finish
