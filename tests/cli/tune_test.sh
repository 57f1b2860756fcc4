# foampulse tune.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

# A pad of two layers with so much behind it.
pad() {
    printf 'title: Two pads\npad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm},'
    printf ' {foam: eps, density: 40 g/l, thickness: 10 mm}]}\nstriker: {mass: 5 kg}\nsolver: {cell: 2 mm}\n'
    printf 'impacts: [{speed: 3.5 m/s}, {speed: 4.5 m/s}]\nlimits: {peak_g: 120 g, hic: 600}\n%s\n' "$1"
}

# first value of a key of JSON in out, behind the first line that holds $1
value() {
    awk -v after="$1" -v key="\"$2\":" 'index($0, after) { on = 1 }
        on && index($0, key) { sub(/.*: /, ""); sub(/,$/, ""); print; exit }' out
}

ranges='pad.layers.1.density: {from: 22 g/l, to: 90 g/l}, pad.layers.2.density: {from: 20 g/l, to: 90 g/l}'

# --- the best of all 210 layouts, with a tenth of the runs
pad "sweep: {vary: {$ranges}}
tune: {keep: {stroke_left: {min: 38 %}}, steps: {density: 5 g/l}, runs: 60}" >a.yaml
run tune a.yaml
exits "tune" 0
says "tune: the grid of the steps" out "pad 1 density: 22 g/l to 90 g/l, 14 values"
says "tune: a bound" out "stroke left at least 38 %: "
says "tune: it is kept" out ", kept"
says "tune: the start" out "as written: worst margin 34."
says "tune: the gain" out "better by "
says "tune: how the best grew" out "best so far:"
says "tune: runs" out "runs of 60 used, the case as written one of them"
same "tune: caution last" "Prediction, to compare layouts" "$(tail -n 1 out | cut -c 1-30)"
says "tune: the case" err "wrote a.tuned.yaml"
same "tune: no journal is left" "a.tune.h5" "$(ls a.tune.*)"
cp a.tune.h5 first.h5
cp a.tuned.yaml first.yaml
run tune a.yaml --json
exits "tune again" 0
margin=$(value '"best"' value) left=$(value '"best"' stroke_left)
pad "sweep: {vary: {pad.layers.1.density: {from: 25 g/l, to: 90 g/l, step: 5 g/l}, pad.layers.2.density: {from: 20 g/l, to: 90 g/l, step: 5 g/l}}}" >all.yaml
run sweep all.yaml -q
run show all.sweep.h5 --csv
best=$(awk -F , 'NR > 1 && $7 >= 0.38 && (best == "" || $9 > best) { best = $9 } END { print best }' out)
same "tune: the best of the whole grid" "$(printf %.6f "$best")" "$(printf %.6f "$margin")"

# --- the tuned case gives what the row says, and is a case without studies
run run a.tuned.yaml --json
exits "the tuned case runs" 0
same "the tuned case: the margin" "$margin" "$(value '"worst"' margin)"
same "the tuned case: no studies" "0" "$(grep -c '^sweep:\|^tune:' a.tuned.yaml)"
same "the tuned case: from where" "from a.yaml" "$(head -n 1 a.tuned.yaml | grep -o 'from .*')"

# --- again, and with other threads: the same bytes
run tune a.yaml
says "again: nothing is solved" err "runs were there and were not solved again"
cmp -s a.tune.h5 first.h5 && ok "again: the same bytes" || not_ok "again: the same bytes" "they differ"
for jobs in 1 3; do
    rm -f a.tune.h5
    run tune a.yaml -q -j $jobs
    cmp -s a.tune.h5 first.h5 && ok "$jobs threads" || not_ok "$jobs threads" "other bytes"
    cmp -s a.tuned.yaml first.yaml && ok "$jobs threads: case" || not_ok "$jobs threads: case" "another"
done

# --- an interrupted tuning goes on from its journal
rm -f a.tune.h5
pad "sweep: {vary: {$ranges}}
tune: {steps: {density: 1 g/l}, runs: 24}" | sed 's/cell: 2 mm/cell: 0.3 mm/' >i.yaml
"$FOAMPULSE" tune i.yaml -j 1 >out 2>err </dev/null &
process=$!
tries=0
kept() {
    if [ -e i.tune.h5.part ]; then wc -c <i.tune.h5.part; else echo 0; fi
}
while [ "$(kept)" -lt 600 ] && [ $tries -lt 600 ]; do sleep 0.05; tries=$((tries + 1)); done
kill -INT $process
wait $process
status=$?
exits "interrupted" 130
says "interrupted: what is kept" err "kept what is solved in i.tune.h5.part: the same command goes on from there"
same "interrupted: nothing else is written" "i.tune.h5.part" "$(ls i.tune*)"
run tune i.yaml
exits "gone on" 0
says "gone on: from what was kept" err "runs were there and were not solved again"
mv i.tune.h5 gone_on.h5
run tune i.yaml -q
cmp -s i.tune.h5 gone_on.h5 && ok "gone on: the same bytes" || not_ok "gone on: the same bytes" "they differ"

# --- another objective; a bound of the range
pad "sweep: {vary: {striker.mass: {from: 4 kg, to: 6 kg, step: 0.25 kg}}}
tune: {objective: peak_g, runs: 12}" >m.yaml
run tune m.yaml
exits "a metric" 0
says "a metric: said" out "largest peak g"
says "a metric: its bound" out "bound, "
run tune m.yaml --json
same "a metric: no worse than any" "true" "$(awk '/"points"/ { on = 1 } on && /"value":/ { sub(/.*: /, ""); sub(/,/, ""); if (least == "" || $0 + 0 < least) least = $0 + 0 } /"best"/ { b = 1 } b && !best && /"value":/ { best = $0; sub(/.*: /, "", best); sub(/,/, "", best) } END { if (best + 0 == least) print "true"; else print best, least }' out)"

# --- nothing keeps the bound
pad "sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l, step: 5 g/l}}}
tune: {keep: {peak_g: {max: 20 g}}, runs: 10}" >n.yaml
run tune n.yaml
exits "no layout keeps the bounds" 0
says "no layout keeps the bounds: said" out "no layout that was tried was computed and keeps all bounds"
same "no layout keeps the bounds: no case" "" "$(ls n.tuned.yaml 2>/dev/null)"

# --- files of others
run tune m.yaml
echo "letters" >m.tuned.yaml
run tune m.yaml
exits "a case of another hand" 4
says "a case of another hand: said" err "m.tuned.yaml: error: was not written by tune: -f replaces it"
same "a case of another hand stays" "letters" "$(cat m.tuned.yaml)"
run tune m.yaml -f -q
exits "a case of another hand, -f" 0
run tune m.yaml -s 'striker.mass=9 kg' -s 'pad.area=50 cm2'
exits "another case" 4
says "another case: said" err "is a tuning of another case"
run tune m.yaml --model columns,axisymmetric
exits "two models" 2

# --- bad input: FILE:LINE:COLUMN, nothing written
bad() {
    pad "$2" >bad.yaml
    run tune bad.yaml
    exits "$1" 3
    says "$1: said" err "$3"
    same "$1: nothing written" "" "$(ls bad.tune* 2>/dev/null)"
}
vary='sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l}}}'
bad "no sweep" "" "has no \`sweep\`, whose ranges tune searches"
bad "tune without sweep" "tune: {runs: 20}" "bad.yaml:7:7: error: \`tune\` needs the ranges of a \`sweep\`"
bad "an unknown key" "$vary
tune: {budget: 20}" "key of \`tune\` 'budget' is not known"
bad "an unknown objective" "$vary
tune: {objective: peak_h}" "bad.yaml:8:19: error: objective 'peak_h' is not known; nearest: 'peak_g'"
bad "an unknown bound" "$vary
tune: {keep: {strok_left: {min: 20 %}}}" "bad.yaml:8:15: error: bound 'strok_left' is not known; nearest: 'stroke_left'"
bad "a bound without a way" "$vary
tune: {keep: {stroke_left: 20 %}}" "a bound is {max: VALUE} or {min: VALUE}"
bad "a bound without a unit" "$vary
tune: {keep: {peak_g: {max: 100}}}" "bad.yaml:8:29: error: "
bad "the mass of a pad" "$vary
tune: {keep: {helmet_mass: {max: 1 kg}}}" "a pad has no helmet mass to bound"
bad "a step of nothing" "$vary
tune: {steps: {densty: 5 g/l}}" "bad.yaml:8:16: error: last word of a path 'densty' is not known; nearest: 'density'"
bad "a step in another unit" "$vary
tune: {steps: {density: 5 kg/m3}}" "the step has the unit \"kg/m3\" and the range of pad.layers.1.density \"g/l\""
bad "a step that hits nothing" "$vary
tune: {steps: {density: 37 g/l}}" "between 1 and 100000 multiples of the step have to lie there"
bad "no runs" "$vary
tune: {runs: 1}" "bad.yaml:8:14: error: "

# --- what is asked next, scatter, goes on to the tuned case
pad "sweep: {vary: {pad.layers.1.density: [40 g/l, 50 g/l]}}
tolerance: {scatter: {pad.layers.1.density: {half_range: 4 g/l}}, runs: 12}" >t.yaml
run tune t.yaml
exits "with tolerance" 0
same "with tolerance: it is in the tuned case" "1" "$(grep -c '^tolerance:' t.tuned.yaml)"
run tolerance t.tuned.yaml
exits "with tolerance: the tuned case" 0
says "with tolerance: its scatter" out "within +-4 g/l"
finish
