# check: what is shown of a case, as text and as JSON; faults with their place; nothing shown of a faulty case.
. "$(dirname "$0")/harness.sh"
cases=$source/cases

run check "$cases/touring.yaml"
exits "helmet: status" 0
silent "helmet: nothing on stderr" err
says "helmet: title" out "Two-density touring liner"
says "helmet: a stack in words" out \
    "shell 3.5 mm | eps 45 kg/m3 18 mm | eps 30 kg/m3 less 10 % voids 17 mm | comfort-soft 8 mm | gap 1 mm | head"
says "helmet: what the fill takes" out "(comfort padding takes 3 mm of it)"
says "helmet: the opening" out "vision opening  open"
says "helmet: count of impacts" out "6 impacts, 6 hits, model axisymmetric"
says "helmet: assumptions" out "the liner is bonded to the shell"
# 1040 kg/m3 x share covered x 4/3 pi ((134.72 + 3.5)^3 - 134.72^3) mm3, 134.72 = 570 / 2 pi + 44
says "helmet: mass of the shell" out "0.549 kg"
# the whole sphere less the opening, (sin 5 deg + sin 30 deg) / 2 x 130 / 360, less below -30 deg, 1/4
says "helmet: share covered" out "cover 64.4 % of the full sphere"

# what else will not be computed is foreseen too, and how long the rest takes
run check "$source/cases/smallest.yaml" \
    -s 'impacts=[{at: P, speed: 5 m/s, temperature: -40 degC}, {at: P, hits: [5 m/s, 4 m/s]}, {at: P, speed: 5 m/s}]'
says "a temperature outside the table" out "not computed: eps is known from -20 to 50 degC, not at -40 degC (region 'liner', layer 1)"
same "the others are computed" 1 "$(grep -c 'not computed' "$scratch/out")"
says "expected time of three hits" out "model axisymmetric; about 1.4 s of processor time"
run check "$source/cases/smallest.yaml" --json -s solver.cell='3.5 mm' -s solver.rings=24
says "expected time of a coarse mesh, JSON" out '"processor_time_s": 0.05625'

run check "$cases/bench-pad.yaml"
exits "pad: status" 0
says "pad: the stack" out "anvil | eps 50 kg/m3 20 mm | eps 35 kg/m3 15 mm | striker"
# 60 cm2 x (20 mm x 50 kg/m3 + 15 mm x 35 kg/m3)
says "pad: mass" out "9.15 g"

run check "$cases/demo/single.yaml" "$cases/demo/crown.yaml" --json
exits "json: status" 0
says "json: schema" out '"schema": "foampulse/check/1"'
same "json: both cases" 2 "$(grep -c case_hash "$scratch/out")"
says "json: an include was read" out '"circumference_mm": 570'

run check "$cases/smallest.yaml" --set "liner.density=60 g/l"
says "--set is seen" out "eps 60 kg/m3 35 mm"

printf 'headform: {size: J}\nshell: {material: abs, thickness: -3 mm}\n' >"$scratch/bad.yaml"
run check "$scratch/bad.yaml" "$cases/smallest.yaml"
exits "fault: status" 3
says "fault: place" err "bad.yaml:2:35: error: \`thickness\` must be above 0"
says "fault: the line" err "shell: {material: abs, thickness: -3 mm}"
says "fault: the other case is shown" out "smallest.yaml"

run check "$scratch/bad.yaml" --json
exits "fault as json: status" 3
says "fault as json: schema" out '"schema": "foampulse/error/1"'
says "fault as json: line" out '"line": 2'

run check "$scratch/nowhere.yaml"
exits "missing file: status" 4
run check
exits "no case: status" 2

sed 's/extra_mass: 0.35 kg.*/helmet_mass: 0.1 kg\n  density: 1050 kg\/m3/' "$cases/touring.yaml" >"$scratch/light.yaml"
run check "$scratch/light.yaml"
exits "parts heavier than the helmet: status" 3
says "parts heavier than the helmet: text" err "more than the helmet's 0.100 kg"

finish
