# Kills a journalled run, a sweep, and one without physics (tests/faults/points.c) at random moments and goes on:
#
#   tests/faults/kills.sh KILLS [SEED]
#
# KILLS of each, with SIGKILL, SIGTERM and SIGINT in turn. After each kill the next process has to take over every record
# that was in the journal before, and every point that was acknowledged; a result under its final name can be read; each
# time a process comes to its end, its result is equal to that of an undisturbed one (sweeps byte for byte, the run by
# content_hash) and nothing else is left in the folder. $FOAMPULSE is the program, the points program stands beside it.
# In memory where that can be: waiting for a disk would take most of the time, and kills would meet little else.
[ -w /dev/shm ] && export TMPDIR=/dev/shm
. "$(dirname "$0")/../cli/harness.sh"
kills=$1
seed=${2:-$(date +%s)}
points=$(dirname "$FOAMPULSE")/tests/faults/points
sweep=4000 impacts=40 layouts=48
cd "$scratch" || exit 1
echo "kills: seed $seed"

hash() {
    grep -aoE '[0-9a-f]{64}' "$1"
}

# The time of a command [ms].
took() {
    start=$(date +%s%N)
    "$@" >/dev/null 2>&1
    echo $((($(date +%s%N) - start) / 1000000 + 1))
}

# Many impacts that are solved in milliseconds.
many() {
    printf 'pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\nstriker: {mass: 5 kg}\n'
    printf 'solver: {cell: 1.5 mm, duration: 3 ms}\nlimits: {peak_g: 900 g}\nimpacts:\n'
    awk -v impacts=$impacts 'BEGIN { for (i = 1; i <= impacts; i++) printf "  - {speed: %.2f m/s}\n", 2 + i / impacts }'
}

# As many layouts.
swept() {
    printf 'pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\nstriker: {mass: 5 kg}\n'
    printf 'solver: {cell: 1.5 mm, duration: 3 ms}\nlimits: {peak_g: 900 g}\nimpacts: [{speed: 3 m/s}, {speed: 4 m/s}]\n'
    printf 'sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l, count: %d}}}\n' $layouts
}

# --- what differs between them: command, the point count it says it took, sameness, a look at a result

solve_points() { exec "$points" solve points.h5 $sweep; }
taken_points() { sed -n 's/^taken //p' log; }
last_points() { sed -n '/^[0-9]*$/p' log | tail -n 1; }
same_points() { cmp -s points.h5 "$scratch/wanted/points.h5"; }
look_points() { [ "$(head -c 14 points.h5)" = "foampulse file" ]; }

solve_many() { exec "$FOAMPULSE" run "$scratch/many.yaml" -o many.h5 -j 2 >out; }
taken_many() { sed -n 's/^many.h5.part: \([0-9]*\) of .*/\1/p' log; }
last_many() { :; }
same_many() { [ "$(hash many.h5)" = "$(hash "$scratch/wanted/many.h5")" ]; }
look_many() { "$FOAMPULSE" show many.h5 >/dev/null 2>&1; }

solve_swept() { exec "$FOAMPULSE" sweep "$scratch/swept.yaml" -o swept.h5 -j 2 >out; }
taken_swept() { sed -n 's/^\([0-9]*\) of .* layouts were there.*/\1/p' log; }
last_swept() { :; }
same_swept() { cmp -s swept.h5 "$scratch/wanted/swept.h5"; }
look_swept() { "$FOAMPULSE" show swept.h5 >/dev/null 2>&1; }

bad() {
    not_ok "$what, seed $seed, kill $killed: $1" "$2: $(tail -n 3 log)"
}

# strike NAME ALL: the kills of one of them, with ALL points.
strike() {
    what=$1 all=$2
    killed=0 rounds=0 early=0 middle=0 late=0 nines=0 held=0
    rm -rf "work-$what" && mkdir "work-$what" && cd "work-$what" || exit 1
    limit=$(cat "$scratch/limit-$what") # of the moment of a kill [ms]
    awk -v seed="$seed" 'BEGIN {
        srand(seed)
        for (i = 0; i < 100000; i++) print int(1001 * rand()), substr("KILLKILLTERMINT ", 4 * (i % 4) + 1, 4)
    }' >../moments
    exec 3<../moments
    while read -r part signal <&3; do
        "solve_$what" >log 2>&1 &
        pid=$!
        # one that only has to write the result is left to do so
        if [ "$killed" -lt "$kills" ] && [ "$held" -lt "$all" ]; then
            sleep "$(printf '%d.%03d' $((limit * part / 1000000)) $((limit * part / 1000 % 1000)))"
            kill -"$signal" $pid 2>/dev/null
        fi
        wait $pid 2>/dev/null
        status=$?
        # all that was there when the one before it died is taken over, and all that was acknowledged is there
        taken=$("taken_$what") acknowledged=$("last_$what")
        if [ -n "$taken" ] && [ "$taken" != "$held" ]; then bad "taken over" "$taken of $held"; fi
        before=$held
        held=$("$points" count "$what.h5.part")
        # terminated or interrupted while the last thing was done
        if [ -e "$what.h5" ] && [ ! -e "$what.h5.part" ]; then
            killed=$((killed + (status > 0))) late=$((late + (status > 0)))
            status=0
        fi
        if [ "$status" != 0 ] && [ "$held" -lt "$before" ]; then bad "records stay" "$held of $before"; fi
        if [ "$status" != 0 ] && [ "$held" -lt "${acknowledged:-0}" ]; then
            bad "acknowledged" "$held of $acknowledged"
        fi
        if [ -e "$what.h5" ] && ! "look_$what"; then bad "a result that is there can be read" "it cannot"; fi
        # kills shall meet all of its life, on a busy machine too
        if [ "$status" != 0 ] && [ "$held" = "$before" ]; then
            limit=$((limit * 5 / 4 + 1))
        elif [ "$before" -lt "$all" ] && [ "$status" = 0 ] || [ "$held" = "$all" ]; then
            limit=$((limit * 3 / 4))
        fi
        case $status in
        0)
            rounds=$((rounds + 1))
            if ! "same_$what"; then bad "the result is that of an undisturbed run" "it is not"; fi
            rm -f log out "$what.h5"
            left=$(find . -mindepth 1)
            if [ -n "$left" ]; then bad "nothing is left" "$left"; fi
            held=0
            [ "$killed" -lt "$kills" ] || break
            ;;
        130 | 143 | 137)
            killed=$((killed + 1))
            [ "$status" = 137 ] && nines=$((nines + 1))
            if [ "$held" = 0 ]; then early=$((early + 1)); elif [ "$held" -lt "$all" ]; then middle=$((middle + 1)); else
                late=$((late + 1))
            fi
            ;;
        *) bad "killed or finished" "status $status" ;;
        esac
        [ $failures -lt 10 ] || break
    done
    exec 3<&-
    cd "$scratch" || exit 1
    [ $failures = 0 ] && ok "$what: $killed kills survived"
    echo "figure: $what: $killed kills ($nines SIGKILL, the rest SIGTERM and SIGINT; $early before the first record," \
        "$middle between records, $late while the result was written), $rounds results, all equal to the undisturbed one"
}

mkdir wanted
many >many.yaml
swept >swept.yaml
(cd wanted && "$points" solve points.h5 $sweep >/dev/null && "$FOAMPULSE" run ../many.yaml -q -o many.h5 >/dev/null &&
    "$FOAMPULSE" sweep ../swept.yaml -q -o swept.h5 >/dev/null)
mkdir timed && cd timed || exit 1
took "$points" solve points.h5 $sweep >../limit-points
took "$FOAMPULSE" run ../many.yaml -o many.h5 >../limit-many
took "$FOAMPULSE" sweep ../swept.yaml -o swept.h5 >../limit-swept
cd ..
strike points $sweep
strike many $impacts
strike swept $layouts

# --- shares of a sweep, solved apart and merged
"$points" solve a.h5 $sweep 0 2 >/dev/null && "$points" solve b.h5 $sweep 1 2 >/dev/null
"$points" merge merged.h5 $sweep a.h5.part b.h5.part >log
same "shares: merged" "$((sweep / 2)) $((sweep / 2))" "$(sed -n 's/^added //p' log | tr '\n' ' ' | sed 's/ $//')"
same "shares: nothing solved again" 0 "$(grep -c '^[0-9]*$' log)"
if cmp -s merged.h5 wanted/points.h5; then ok "shares: byte for byte"; else not_ok "shares: byte for byte" "they differ"; fi
finish
