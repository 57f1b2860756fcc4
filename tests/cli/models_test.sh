# One case by both models of a helmet, side by side.
. "$(dirname "$0")/harness.sh"
case=$source/cases/smallest.yaml
coarse="-s solver.rings=12 -s solver.cell=6mm"
mkdir "$scratch/out.d" "$scratch/alone.d"

run run "$case" $coarse --model columns,axisymmetric -o "$scratch/out.d/"
exits "both models" 0
says "names the first" out "$case, columns: exceeds"
says "the first is the baseline" out "$case, axisymmetric against the baseline, $case, columns"
same "no model is the better layout" "" "$(grep 'largest least margin' "$scratch/out")"
same "a file each" "smallest.axisymmetric.h5
smallest.columns.h5" "$(ls "$scratch/out.d")"
run run "$case" $coarse --model axisymmetric -o "$scratch/alone.d/" --json
peak=$(grep -o '"peak_g": [0-9.]*' "$scratch/out" | cut -d' ' -f2)
run run "$case" $coarse --model columns,axisymmetric --json -q -o "$scratch/out.d/"
exits "again, as JSON" 0
same "the models in order" "columns axisymmetric" \
    "$(grep -o '"model": "[a-z]*"' "$scratch/out" | cut -d'"' -f4 | tr '\n' ' ' | sed 's/ $//')"
same "the second as when it is alone" "$peak" "$(grep -o '"peak_g": [0-9.]*' "$scratch/out" | cut -d' ' -f2 | tail -1)"
run show "$scratch/out.d/smallest.columns.h5" "$scratch/out.d/smallest.axisymmetric.h5"
says "show names them too" out "axisymmetric against the baseline"
run plot "$scratch/out.d/smallest.columns.h5" "$scratch/out.d/smallest.axisymmetric.h5" --picture pulse --format text
says "a picture names the first" out "columns"
says "a picture names the second" out "axisymmetric"

# a result of another kind has not the impact that is drawn
run run "$source/cases/bench-pad.yaml" -q -o "$scratch/pad.h5"
run plot "$scratch/out.d/smallest.columns.h5" "$scratch/pad.h5" --picture pulse --format text
says "a result that is left out is told" err "pad.h5: has not the impact that governs, and is left out"
same "only that one" 1 "$(grep -c 'left out' "$scratch/err")"

run run "$case" --model columns,column
exits "an unknown model" 2
says "an unknown model: allowed" err "--model takes columns|axisymmetric, not 'columns,column'"
run run "$case" --model columns,
exits "an empty model" 2
run run "$case" --model columns,columns
exits "a model twice" 2
says "a model twice: which" err "--model names columns twice"
run run "$case" --model columns,axisymmetric -o "$scratch/one.h5"
exits "one file for two results" 2
run run "$source/cases/bench-pad.yaml" --model columns,axisymmetric -o "$scratch/out.d/"
exits "a pad has one model" 2
echo "headform: {siz: J}" >"$scratch/bad.yaml"
run run "$scratch/bad.yaml" --model columns,axisymmetric
exits "a bad case" 3
same "its fault is told once" 1 "$(grep -c "error:" "$scratch/err")"
finish
