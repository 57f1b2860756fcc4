# The mesh refined: the values are those of `run` on each mesh, and what they tell follows from them.
. "$(dirname "$0")/harness.sh"
mkdir "$scratch/to"
pad=$source/cases/bench-pad.yaml

# all values of a JSON key, in order
values() {
    tr -d ' \n' <"$scratch/out" | grep -o "\"$1\":[-0-9.e]*" | cut -d: -f2 | tr '\n' ' '
}

run converge "$pad" -o "$scratch/to/"
exits "a pad" 0
says "its meshes" out "4x  cells of 0.4375 mm"
says "the order is judged" out "credible"
says "the second hit on a pad by its own number" out "  4.2  pad "
says "the mesh of the case against the finest" out "lies within 2 % of the finest in 5 of 5 hits"
says "the caution" out "it does not replace them"
same "result and picture" "bench-pad.converge.h5 bench-pad.converge.png" "$(ls "$scratch/to" | tr '\n' ' ' | sed 's/ $//')"
says "the file is named" err "wrote $scratch/to/bench-pad.converge.h5"

run converge "$pad" -o "$scratch/to/"
exits "a result that is there already" 4
says "what to do" err "bench-pad.converge.h5: error: is there already: -f replaces it"
silent "nothing is solved" out
cp "$scratch/to/bench-pad.converge.h5" "$scratch/first.h5"
run converge "$pad" -f -o "$scratch/to/"
exits "replaced with -f" 0
cmp -s "$scratch/first.h5" "$scratch/to/bench-pad.converge.h5"
same "equal studies are equal byte for byte" 0 $?

run converge "$pad" --json -q -f -o "$scratch/to/"
exits "as JSON" 0
says "its schema" out '"schema": "foampulse/converge/1"'
cp "$scratch/out" "$scratch/converge.json"
for mesh in 1.75:1 0.875:2 0.4375:3; do
    got=$(tr -d ' \n' <"$scratch/converge.json" | grep -o '"metric":"peak_g","unit":"g","values":\[[^]]*' |
        cut -d[ -f2 | cut -d, -f"${mesh#*:}" | tr '\n' ' ')
    run run "$pad" -s "solver.cell=${mesh%:*} mm" --json -o "$scratch/to/"
    same "as run with cells of ${mesh%:*} mm" "$(values peak_g)" "$got"
done

# f1 + (f1 - f2)/(2^p - 1) and 1.25 |f1 - f2|/(2^p - 1), p = log2((f3 - f2)/(f2 - f1)), in awk
tr -d ' \n' <"$scratch/converge.json" | grep -o '"metric":"peak_g"[^}]*' | head -1 | tr '[],:' '    ' | awk '
    { for (i = 1; i <= NF; i++) {
          if ($i == "\"values\"") { f3 = $(i + 1); f2 = $(i + 2); f1 = $(i + 3) }
          if ($i == "\"order\"") p = $(i + 1)
          if ($i == "\"extrapolated\"") limit = $(i + 1)
          if ($i == "\"uncertainty\"") bar = $(i + 1)
      }
      q = log((f3 - f2) / (f2 - f1)) / log(2); growth = exp(q * log(2)) - 1
      good = (q - p)^2 < 1e-6 && (limit - f1 - (f1 - f2) / growth)^2 < 1e-12
      gap = f1 > f2 ? f1 - f2 : f2 - f1
      good = good && (bar - 1.25 * gap / growth)^2 < 1e-12
      print good ? "agrees" : "differs" }' >"$scratch/awk"
same "order, limit and index by hand" agrees "$(cat "$scratch/awk")"

run converge "$source/cases/smallest.yaml" -s solver.rings=6 -s 'solver.cell=12 mm' --model axisymmetric -q -o "$scratch/to/"
exits "a helmet by zones" 0
says "rings of the finest" out "4x  21 rings, cells of 3 mm"

run converge "$pad" --model columns,axisymmetric
exits "two models" 2
run converge "$source/cases/smallest.yaml" -s solver.rings=400
exits "more rings than there can be" 2
# cells thinner than the beads of the foam are wanted here, and warned of elsewhere, once a case
run converge "$pad" -s 'solver.cell=0.9 mm' -q -f -o "$scratch/to/"
exits "cells thinner than beads: status" 0
same "cells thinner than beads: no word of it" 0 "$(cat "$scratch/out" "$scratch/err" | grep -c bead)"
run run "$pad" -s 'solver.cell=0.9 mm' -q -o "$scratch/to/beads.h5"
same "cells thinner than beads, run: one warning" 1 "$(grep -c '^warning: cells of 0.9 mm are thinner than the smallest expanded bead of eps' "$scratch/out")"
rm -f "$scratch/to/beads.h5"
run converge "$source/cases/smallest.yaml" -s solver.rings=100 -s 'solver.cell=40 um'
exits "more cells than there can be" 2
says "how many there would be" err "million cells"
run converge "$pad" -o "$scratch/nowhere/"
exits "no such folder" 4
run converge "$pad" "$pad"
exits "one case at a time" 2
same "nothing else is written" "bench-pad.converge.h5 bench-pad.converge.png bench-pad.h5 smallest.converge.h5 \
smallest.converge.png" \
    "$(ls "$scratch/to" | tr '\n' ' ' | sed 's/ $//')"

# killed in the middle, and gone on with: the same file, and nothing is solved twice
slow="-s solver.rings=20 -s solver.cell=4mm --model axisymmetric -j 1"
mkdir "$scratch/whole" "$scratch/killed"
run converge "$source/cases/smallest.yaml" $slow --json -q -o "$scratch/whole/"
exits "undisturbed" 0
cp "$scratch/out" "$scratch/whole.json"
part=$scratch/killed/smallest.converge.h5.part
"$FOAMPULSE" converge "$source/cases/smallest.yaml" $slow -q -o "$scratch/killed/" >"$scratch/out" 2>"$scratch/err" </dev/null &
killed=$!
tries=0
while [ "$(wc -c <"$part" 2>/dev/null || echo 0)" -le 64 ] && [ $tries -lt 600 ]; do
    sleep 0.05
    tries=$((tries + 1))
done
kill -9 $killed
wait $killed 2>/dev/null
same "killed before the end: the journal alone is there" "smallest.converge.h5.part" "$(ls "$scratch/killed")"
run converge "$source/cases/smallest.yaml" $slow --json -o "$scratch/killed/"
exits "gone on with" 0
says "what is taken" err "$part: 1 of 1 impacts of mesh 1x taken from the journal"
same "the same words" "$(cat "$scratch/whole.json")" "$(cat "$scratch/out")"
cmp -s "$scratch/whole/smallest.converge.h5" "$scratch/killed/smallest.converge.h5"
same "the same file" 0 $?
same "the journal is gone" "smallest.converge.h5 smallest.converge.png" "$(ls "$scratch/killed" | tr '\n' ' ' | sed 's/ $//')"
finish
