# foampulse sweep, merge and show of sweeps.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

# A pad of two layers with so much behind it.
pad() {
    printf 'title: Two pads\npad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm},'
    printf ' {foam: eps, density: 40 g/l, thickness: 10 mm}]}\nstriker: {mass: 5 kg}\nsolver: {cell: 2 mm}\n'
    printf 'impacts: [{speed: 3.5 m/s}, {speed: 4.5 m/s}]\nlimits: {peak_g: 120 g, hic: 600}\n%s\n' "$1"
}

# number,margin of each layout, sorted, from JSON on standard input.
margins() {
    awk '/"number":/ { gsub(/[^0-9]/, ""); number = $0 } /"margin":/ { sub(/.*: /, ""); sub(/,/, ""); print number, $0 }'
}

# --- a grid
pad 'sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l, step: 10 g/l}, "pad.layers.*.foam": [eps, epp]}}' >a.yaml
run sweep a.yaml
exits "grid" 0
says "grid: layouts" out "6 layouts (grid), 2 hits each, model pad"
says "grid: a factor" out "pad 1 density: 40 g/l to 60 g/l, 3 values"
says "grid: texts" out "pad foam: eps, epp"
says "grid: the best" out "best: no. "
says "grid: governing" out "impact 2 (pad, flat, 4.50 m/s, 23 degC) in "
same "grid: caution last" "Prediction, to compare layouts" "$(tail -n 1 out | cut -c 1-30)"
says "grid: file" err "wrote a.sweep.h5"
same "grid: no journal is left" "a.sweep.h5" "$(ls a.sweep*)"
cp a.sweep.h5 first.h5

# what a layout gives is what running it gives
run sweep a.yaml --json
exits "again" 0
margins <out >swept
number=$(head -n 1 swept | cut -d ' ' -f 1) margin=$(head -n 1 swept | cut -d ' ' -f 2)
run show a.sweep.h5 --point "$number"
says "a layout: its command" out "foampulse run CASE -s 'pad.layers.1.density=40 g/l' -s 'pad.layers.*.foam=eps'"
run run a.yaml -s 'pad.layers.1.density=40 g/l' -s 'pad.layers.*.foam=eps' --json
same "a layout gives what its run gives" "$margin" "$(awk '/"worst"/ { in_worst = 1 } in_worst && /"margin"/ { sub(/.*: /, ""); sub(/,/, ""); print; exit }' out)"
cmp -s a.sweep.h5 first.h5 && ok "again: the same bytes" || not_ok "again: the same bytes" "they differ"
run sweep a.yaml
says "again: nothing is solved" err "6 of 6 layouts were there and were not solved again"

# same bits for any number of threads and each kernel
for isa in base v3 v4; do
    for jobs in 1 3; do
        rm -f b.h5
        FOAMPULSE_ISA=$isa run sweep a.yaml -q -j $jobs -o b.h5
        if cmp -s b.h5 first.h5; then ok "$isa, $jobs threads"; else not_ok "$isa, $jobs threads" "other bytes"; fi
    done
done

# more values: those known are taken, those no longer asked for are kept as number 0
sed 's/step: 10/step: 5/; s/eps, epp/epp, eps/' a.yaml >c.yaml
run sweep c.yaml -o a.sweep.h5 --json
exits "more values" 0
margins <out | cut -d ' ' -f 2 | sort >more
cut -d ' ' -f 2 swept | sort >few
same "more values: the old are among them" "" "$(comm -23 few more)"
run sweep c.yaml -o a.sweep.h5
says "more values: none solved again" err "10 of 10 layouts were there"
run sweep a.yaml -s 'sweep.vary.pad.layers.1.density.step=20 g/l' --json
same "fewer values: all are kept" "10" "$(margins <out | wc -l | tr -d ' ')"
same "fewer values: numbers" "0 0 0 0 0 0 1 2 3 4" "$(margins <out | cut -d ' ' -f 1 | sort -n | tr '\n' ' ' | sed 's/ $//')"

# --- another case, another program, another thing
run sweep a.yaml -s 'striker.mass=6 kg'
exits "another case" 4
says "another case: said" err "a.sweep.h5: error: is a sweep of another case"
run sweep a.yaml -s 'striker.mass=6 kg' -f -q
exits "another case, -f" 0
echo letters >a.sweep.h5
run sweep a.yaml
exits "a foreign file" 4
says "a foreign file: said" err "is no result of this kind"
same "a foreign file stays" "letters" "$(cat a.sweep.h5)"
head -c 3000 first.h5 >a.sweep.h5
run sweep a.yaml
exits "a truncated file" 3
run show a.sweep.h5
exits "show: a truncated file" 3
rm a.sweep.h5

# --- samples
pad 'sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l}, pad.layers.2.thickness: {from: 8 mm, to: 12 mm, step: 1 mm}}, sample: sobol, points: 8, seed: 0}' >s.yaml
run sweep s.yaml
exits "sobol" 0
run show s.sweep.h5 --csv
# the first points of the sequence in two factors: 0 0, 1/2 1/2, 3/4 1/4, 1/4 3/4 (Bratley and Fox, ACM TOMS 14, 1988)
same "sobol: values" "40,8 50,10 55,9 45,11" "$(sed -n '2p;4p;6p;8p' out | cut -d , -f 4,5 | tr '\n' ' ' | sed 's/ $//')"
run sweep s.yaml -s sweep.sample=latin -s sweep.seed=1 -o l1.h5 --json
exits "latin" 0
margins <out >l1
run sweep s.yaml -s sweep.sample=latin -s sweep.seed=1 -o l1b.h5 -q
cmp -s l1.h5 l1b.h5 && ok "latin: one seed, one sample" || not_ok "latin: one seed, one sample" "they differ"
run sweep s.yaml -s sweep.sample=latin -s sweep.seed=2 -o l2.h5 --json
margins <out >l2
cmp -s l1 l2 && not_ok "latin: another seed" "the same sample" || ok "latin: another seed"

# --- shares
pad 'sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l, count: 7}, pad.layers.2.foam: [eps, epp]}}' >m.yaml
run sweep m.yaml -q -o whole.h5
for k in 1 2 3; do run sweep m.yaml --share $k/3 -q; done
exits "a share" 0
run merge m.sweep.3-of-3.h5 m.sweep.1-of-3.h5
exits "merge: one is missing" 3
says "merge: which" err "5 of 14 points are in none of these files, the first is number 2"
same "merge: nothing is written" "" "$(ls m.sweep.h5 2>/dev/null)"
run merge m.sweep.3-of-3.h5 m.sweep.1-of-3.h5 m.sweep.2-of-3.h5
exits "merge" 0
cmp -s m.sweep.h5 whole.h5 && ok "merge: the file of one machine" || not_ok "merge: the file of one machine" "it differs"
run merge m.sweep.3-of-3.h5 m.sweep.1-of-3.h5 m.sweep.2-of-3.h5
exits "merge: replaces with -f only" 4
run merge first.h5 m.sweep.1-of-3.h5 -o x.h5
exits "merge: of two sweeps" 3
says "merge: of two sweeps, said" err "m.sweep.1-of-3.h5: error: is of another case"
run sweep m.yaml --share 4/3
exits "share: beyond" 2
says "share: said" err "--share takes K/N"

# --- what goes wrong in a layout is a row
printf 'headform: {size: J}\nshell: {material: abs, thickness: 3 mm}\nmodel: columns\nsolver: {rings: 12}\n' >r.yaml
printf 'liner: {foam: eps, density: 50 g/l, thickness: 30 mm}\nlimits: {peak_g: 250 g}\n' >>r.yaml
printf 'impacts: [{at: P, anvil: flat, speed: 6 m/s}]\n' >>r.yaml
printf 'sweep: {vary: {liner.density: [50 g/l, 30 g/l], "impacts.*.speed": [6 m/s, 99 m/s]}}\n' >>r.yaml
run sweep r.yaml
exits "a layout fails" 0
says "a layout fails: counted" out "failed, 0 refused"
run show r.sweep.h5 --csv
same "a layout fails: rows" "computed failed computed failed" "$(sed 1d out | cut -d , -f 2 | tr '\n' ' ' | sed 's/ $//')"
run sweep r.yaml
says "a layout fails: not tried again" err "4 of 4 layouts were there"
# values that are sound alone and exclude each other
printf 'sweep: {vary: {liner.thickness: [30 mm, 60 mm], shell.inner_radius: [135 mm, 175 mm]}}\n' >tail.yaml
sed '/^sweep/d' r.yaml | cat - tail.yaml >q.yaml
run sweep q.yaml
exits "a refused layout" 0
says "a refused layout: counted" out "3 computed, 0 failed, 1 refused"
printf 'sweep: {vary: {liner.thickness: [30 mm, -5 mm]}}\n' >tail.yaml
sed '/^sweep/d' r.yaml | cat - tail.yaml >q.yaml
run sweep q.yaml
exits "a value that fits nowhere" 3
says "a value that fits nowhere: its place" err "q.yaml:8:41: error: "

# --- bad input: FILE:LINE:COLUMN, nothing written
bad() {
    pad "$2" >bad.yaml
    run sweep bad.yaml
    exits "$1" 3
    says "$1: said" err "$3"
    same "$1: nothing written" "" "$(ls bad.sweep* 2>/dev/null)"
}
bad "no sweep" "" "has no \`sweep\`"
bad "no vary" "sweep: {sample: grid}" "bad.yaml:7:8: error: \`vary\` takes 1 to 64 paths"
bad "names nothing" "sweep: {vary: {pad.layers.3.density: [40 g/l]}}" "bad.yaml:7:27: error: pad.layers has 2 items, counted from 1; 3 is none of them"
bad "a slip" "sweep: {vary: {striker.mas: [5 kg]}}" "nearest: 'mass'"
bad "a factor twice" 'sweep: {vary: {"pad.layers.*.density": [40 g/l], pad.layers.1.density: [45 g/l]}}' "pad.layers.*.density is also set by another path"
bad "from above to" "sweep: {vary: {striker.mass: {from: 6 kg, to: 5 kg, step: 1 kg}}}" "\`to\` is above \`from\`"
bad "step 0" "sweep: {vary: {striker.mass: {from: 4 kg, to: 5 kg, step: 0 kg}}}" "\`step\` is above zero"
bad "step does not divide" "sweep: {vary: {striker.mass: {from: 4 kg, to: 5 kg, step: 0.3 kg}}}" "\`to\` could be 4.9 kg or 5.2 kg"
bad "two units" "sweep: {vary: {striker.mass: {from: 4 kg, to: 5000 g, step: 1 kg}}}" "write all in one unit"
bad "a unit that does not fit" "sweep: {vary: {striker.mass: {from: 4 mm, to: 5 mm, step: 1 mm}}}" "mm is a length; a mass is wanted"
bad "twice in a list" "sweep: {vary: {striker.mass: [4 kg, 5 kg, 4 kg]}}" "stands in the list twice"
bad "a grid without values" "sweep: {vary: {striker.mass: {from: 4 kg, to: 5 kg}}}" "a grid needs the values of striker.mass"
bad "an unknown key" "sweep: {vary: {striker.mass: {from: 4 kg, till: 5 kg}}}" "key of a range 'till' is not known; allowed: from, to, step, count"
bad "an unknown sample" "sweep: {vary: {striker.mass: [4 kg]}, sample: random}" "sample"
bad "too many" "sweep: {vary: {striker.mass: {from: 4 kg, to: 5 kg, count: 1000}, pad.area: {from: 40 cm2, to: 60 cm2, count: 101}}}" "the sweep has 101000 points, more than 100000: take fewer, or --max-points 101000"
run sweep a.yaml --max-points 3
exits "max-points" 3
run sweep a.yaml --model columns,axisymmetric
exits "two models" 2
run show first.h5 --point 99
exits "show: no such layout" 2
run show first.h5 first.h5
exits "show: one at a time" 2
run run a.yaml -q
run show a.h5 --point 1
exits "show: a run has no layouts" 2
finish
