# foampulse rank: what a sweep says beyond its rows.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

# A pad of two layers with so much behind it.
pad() {
    printf 'title: Two pads\npad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm},'
    printf ' {foam: eps, density: 40 g/l, thickness: 10 mm}]}\nstriker: {mass: 5 kg}\nsolver: {cell: 2 mm}\n'
    printf 'impacts: [{speed: 3.5 m/s}, {speed: 4.5 m/s}]\n%s\n' "$1"
}

# The first number behind a key of the JSON on standard input.
value() {
    sed -n "s/^ *\"$1\": \\(-*[0-9.e-]*\\),*$/\\1/p" | head -n 1
}

# Are two numbers within so much of each other?
near() {
    awk -v a="$2" -v b="$3" -v most="$4" 'BEGIN { exit !(a != "" && b != "" && a - b <= most && b - a <= most) }' &&
        ok "$1" || not_ok "$1" "'$2' and '$3' are more than $4 apart"
}

vary='sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l, step: 5 g/l}, pad.layers.2.thickness: {from: 10 mm, to: 20 mm, count: 3}, "pad.layers.*.foam": [eps, epp]}}'
pad "limits: {peak_g: 120 g, hic: 600}
$vary" >a.yaml
run sweep a.yaml -q
exits "a sweep" 0

# --- the ranking
run rank a.sweep.h5
exits "ranking" 0
silent "ranking: the best is solved, nothing is next" err
says "ranking: what there is" out "30 layouts (grid), 2 hits each, model pad, 3 factors"
says "ranking: how well it predicts" out "predicts well"
says "ranking: what thickness does" out "more raises it"
says "ranking: names have a best" out "best epp"
says "ranking: by impact" out "which factor matters for which impact"
says "ranking: all layouts are looked at" out "best layouts expected, of 30 looked at (all there are)"
says "ranking: more rows" out "and 22 more (--all)"
same "ranking: caution last" "Prediction, to compare layouts" "$(tail -n 1 out | cut -c 1-30)"
same "ranking: the best expected is the best solved" "$(awk '/^solved/ { getline; getline; print $1 }' out)" \
    "$(awk '/^best layouts/ { getline; getline; print }' out | sed 's/.*no\. \([0-9]*\):.*/\1/')"
run rank a.sweep.h5 --all -q
same "--all: every layout" 30 "$(awk '/^how well/ { exit } / pad, flat|\(pad/ { n++ } END { print n + 0 }' out)"

# --- one layout, beside what solving it gives
run rank a.sweep.h5 --at 'pad.layers.1.density=47 g/l' --at 'pad foam=epp' --at 'pad.layers.2.thickness=13 mm'
exits "one layout" 0
says "one layout: its values" out "47 g/l"
says "one layout: not solved" out "not solved"
says "one layout: the next command" err 'to solve it: foampulse run CASE -s "pad.layers.1.density=47 g/l" -s "pad.layers.2.thickness=13 mm" -s "pad.layers.*.foam=epp"'
run rank a.sweep.h5 -q --at 'pad.layers.1.density=47 g/l' --at 'pad foam=epp' --at 'pad.layers.2.thickness=13 mm'
silent "one layout: -q" err
run rank a.sweep.h5 --json -q --at 'pad.layers.1.density=47 g/l' --at 'pad foam=epp' --at 'pad.layers.2.thickness=13 mm'
same "json: its schema" 1 "$(grep -c '"schema": "foampulse/rank/1"' out)"
predicted=$(sed -n '/^ "at": {/,$p' out | value margin)
run run a.yaml --json -s 'pad.layers.1.density=47 g/l' -s 'pad.layers.*.foam=epp' -s 'pad.layers.2.thickness=13 mm'
near "one layout: as solving it, within 2 points" "$predicted" "$(value margin <out)" 0.02
run rank a.sweep.h5 --at 'pad.layers.1.density=47 g/l'
says "the rest is as in the best solved" out "what --at does not name is as in the best layout solved"

# --- refused
run rank a.sweep.h5 --at 'pad.layers.1.density=67 g/l'
exits "outside" 2
says "outside: what was swept" err "'67 g/l' lies outside what was swept, 40 g/l to 60 g/l"
silent "outside: nothing on stdout" out
run rank a.sweep.h5 --at 'pad.layers.1.densty=47 g/l'
exits "no such path" 2
says "no such path: the nearest" err "did you mean 'pad.layers.1.density'?"
run rank a.sweep.h5 --at 'pad.layers.1.density=47 kg/m3'
exits "another unit" 2
says "another unit: which" err "was swept from 40 g/l to 60 g/l: write it so"
run rank a.sweep.h5 --at 'pad foam=ep'
exits "no such name" 2
says "no such name: which there are" err "none of the values swept: eps, epp"
run rank a.sweep.h5 --at 'pad foam'
exits "no value" 2
run rank a.sweep.h5 --at 'pad foam=eps' --at 'pad.layers.*.foam=epp'
exits "twice" 2
says "twice: which" err "names 'pad.layers.*.foam' twice"
run rank a.sweep.h5 --all --json
exits "--all and --json" 2
run rank a.yaml
exits "a case" 3
says "a case: what it takes" err "is no result of sweep, tune or tolerance"
run rank none.h5
exits "no file" 4
run plot a.sweep.h5 --picture section --at '1 ms' --at '2 ms'
exits "plot: times once" 2
says "plot: times once: which" err "--at is given twice; the second is '2 ms'"

# --- files of other studies
pad "limits: {peak_g: 120 g, hic: 600}
sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l}, pad.layers.2.thickness: {from: 10 mm, to: 20 mm}}}
tune: {runs: 14}" >t.yaml
run tune t.yaml -q
exits "a tuning" 0
run rank t.tune.h5
exits "a tuning is ranked" 0
says "a tuning: layouts" out " layouts (tune), 2 hits each"
says "a tuning: any value" out "spread over the ranges"
run tolerance t.yaml -q -s tolerance.runs=12
exits "a tolerance" 0
run rank t.tolerance.h5
exits "a tolerance is ranked" 0
says "a tolerance: layouts" out " layouts (tolerance), 2 hits each"

# --- too little to go by
pad "limits: {peak_g: 120 g}
sweep: {vary: {pad.layers.1.density: [40 g/l, 50 g/l, 60 g/l]}}" >few.yaml
run sweep few.yaml -q
run rank few.sweep.h5
exits "too few layouts" 3
says "too few layouts: how many" err "few.sweep.h5: error: 3 of 3 layouts have a margin; to predict others at least 4 are needed"
pad "$vary" >free.yaml
run sweep free.yaml -q
run rank free.sweep.h5 --json
exits "no limits" 3
says "no limits: what to do" out "no limit decides: set \`limits\`"

finish
