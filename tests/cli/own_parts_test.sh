# What is told of foams, anvils and headforms of a case's own.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

cat >own.yaml <<'END'
headform: {mass: 4.7 kg, circumference: 570 mm}
shell: {material: abs, thickness: 3.5 mm}
foams: {bench55: {density: 55 kg/m3, stress_10: 0.42 MPa}}
liner: {foam: bench55, thickness: 35 mm}
impacts:
  - {at: P, anvil: {shape: flat, diameter: 120 mm}, speed: 7.5 m/s}
  - {at: P, anvil: {shape: hemisphere, radius: 50 mm}, speed: 5 m/s}
solver: {rings: 16, cell: 5 mm}
limits: {peak_g: 100 g}
END
run run own.yaml
exits "own parts: status" 0
says "own headform: one space" out "headform of its own, 4.70 kg"
says "own anvils: shape of the first" out "own flat"
says "own anvils: shape of the second" out "own hemisphere"
same "own foam with a density: no other one is suggested" 0 "$(grep -c 'so try' err)"

# without a density of the foam's own the layer gives it, and the suggestion is a command that works
sed -i 's/density: 55 kg.m3, //; s/foam: bench55,/foam: bench55, density: 55 kg\/m3,/' own.yaml
run run own.yaml
says "density of the layer: another one is suggested" err "run own.yaml -s 'liner.density=50 kg/m3'"
run check own.yaml -s 'liner.density=50 kg/m3'
exits "density of the layer: the suggestion is taken" 0

# all hits over a limit count: where one wants the layer softer and one harder, no density is suggested
cat >both.yaml <<'END'
pad: {area: 60 cm2, layers: [{foam: eps, density: 30 kg/m3, thickness: 25 mm}]}
striker: {mass: 5 kg}
impacts: [{speed: 7 m/s}, {speed: 3 m/s}]
limits: {peak_g: 40 g}
END
run run both.yaml
same "both ways: one bottoms out, one is too stiff" 2 "$(grep -c 'exceeds: peak g  *bottoms out\|exceeds: peak g  *too stiff' out)"
same "both ways: no density is suggested" 0 "$(grep -c 'so try' err)"
run run both.yaml -s impacts.2.speed='7.2 m/s' -f
says "one way: in how many" err "bottoms out in 2 of 2 hits over a limit, so try: foampulse run both.yaml -s 'impacts.2.speed=7.2 m/s' -s 'pad.layers.1.density=35 kg/m3'"
run run both.yaml -s limits.peak_g='80 g' -f
says "one hit over a limit" err "bottoms out, so try: foampulse run both.yaml"

# a soft layer that bottoms out beside one that leaves its stroke: the stack is not used, a denser one is no help
run run both.yaml -f -s 'impacts=[{speed: 5 m/s}]' -s limits.peak_g='20 g' \
    -s 'pad.layers=[{foam: eps, density: 90 kg/m3, thickness: 25 mm}, {foam: eps, density: 20 kg/m3, thickness: 25 mm}]'
says "an idle layer: the other bottoms out" out "exceeds: peak g  bottoms out: pad, layer 2"
same "an idle layer: no density is suggested" 0 "$(grep -c 'so try' err)"

# an impact of its own in place of all: nothing to compare with
run run both.yaml -f -s impacts='[{speed: 1 m/s}]' -s striker.mass='5 g'
same "nothing to compare with: no table" 0 "$(grep -c 'replaces' out)"
says "a light striker" out "striker 0.005 kg; 1 impact"
run check both.yaml -s impacts='[{speed: 1 m/s}]'
says "one impact, one hit" out "1 impact, 1 hit, model pad"

# a run that is cut short says what is missing
run run both.yaml -f -s impacts='[{speed: 1 m/s}]' -s solver.duration='4 ms'
says "cut short: what it means" out "warning: the run ended by its duration before anvil and head were free of force for 1 ms"

# a size with a mass of the case's own is not that size
cat >mass.yaml <<'END'
headform: {size: J, mass: 5.5 kg}
shell: {material: abs, thickness: 3.5 mm}
liner: {foam: eps, density: 40 kg/m3, thickness: 35 mm}
solver: {rings: 8, cell: 5 mm, duration: 1 ms}
impacts: [{at: P, anvil: flat, speed: 7.5 m/s}]
END
for command in check run; do
    run $command mass.yaml
    says "own mass, $command" out "headform en-960 J with own mass, 5.5"
done
run run mass.yaml -s headform.circumference='580 mm' --json -q
says "own mass and shape in JSON" out '"own": "own mass and shape"'

# what an own foam takes from the one it is like, at its own density: 0.84 kPa x 45^1.6 is not among it
cat >taken.yaml <<'END'
foams:
  bench: {density: 45 kg/m3, stress_10: 0.3 MPa, rate_gain: 0.05}
  pad: {like: comfort-firm, density: 35 kg/m3}
pad: {area: 60 cm2, layers: [{foam: bench, thickness: 20 mm}]}
striker: {mass: 5 kg}
impacts: [{speed: 3 m/s}]
END
run check taken.yaml
says "taken: heading" out "bench takes from eps"
# 24.9 kPa x 45^0.681
same "taken: a power law" "tensile_strength 332.7 kPa at 45 kg/m3 derived" "$(grep '^  tensile_strength' out | xargs)"
same "taken: not what is given" 0 "$(grep -c '^  collapse_stress.*45\|^  rate_gain\|^  density' out)"
same "taken: of padding" "collapse_stress 40 kPa memory-low" "$(sed -n '/^pad takes/,/^$/p' out | sed 1d | xargs)"
run check taken.yaml --json
same "taken: in JSON" 1 "$(grep -c '"property": "shear_strength"' out)"

# a curve whose file is not there, or not named
cat >curve.yaml <<'END'
foams: {bench: {curves: [{density: 60 kg/m3, file: nowhere.csv}]}}
pad: {area: 60 cm2, layers: [{foam: bench, density: 60 kg/m3, thickness: 20 mm}]}
striker: {mass: 5 kg}
impacts: [{speed: 3 m/s}]
END
run run curve.yaml
exits "missing curve: status" 3
says "missing curve: its place" err "curve.yaml:1:52: error: file 'nowhere.csv' was not found"
sed -i 's/, file: nowhere.csv//' curve.yaml
run check curve.yaml
exits "curve without a file: status" 3
says "curve without a file: its place" err "curve.yaml:1:26: error: "

# what a curve's file says wrong is told at its place there, once for all layers
cat >curve.yaml <<'END'
foams: {bench: {curves: [{density: 60 kg/m3, file: curve.csv}]}}
pad:
  area: 60 cm2
  layers:
    - {foam: bench, density: 60 kg/m3, thickness: 20 mm}
    - {foam: bench, density: 60 kg/m3, thickness: 10 mm}
striker: {mass: 5 kg}
impacts: [{speed: 3 m/s}]
END
printf 'strain (%%),stress (kPa)\n2,300\n10,wet\n' >curve.csv
run check curve.yaml
exits "curve with a word for a number: status" 3
says "curve with a word for a number: its place" err 'curve.csv:3:4: error: "wet" in column "stress (kPa)"'
same "curve with a word for a number: told once" 1 "$(grep -c error: err)"

# foam crushed past the end of its curve is told of, with the layer and how far it went; what is not is not
printf 'strain (%%),stress (kPa)\n2,300\n10,330\n40,480\n' >curve.csv
sed -i 's/speed: 3 m.s/speed: 5 m\/s}, {speed: 1 m\/s/' curve.yaml
run run curve.yaml --json -q -o past.h5
past="foam bench: its measured curve ends at 40 % strain and is taken to go on straight where it was crushed further: impact 1 (pad, layer 1: to "
says "past the curve: the foam, its end, the layer" out "$past"
reached=$(sed -n "s/.*pad, layer 1: to \([0-9.]*\) %).*/\1/p" out)
strain=$(awk -F': ' '/"largest_strain"/ { print 100 * $2; exit }' out)
same "past the curve: as far as its largest strain, but for what comes between two samples" 1 \
    "$(awk -v a="$reached" -v b="$strain" 'BEGIN { print (a > 40 && a - b < 0.06 && b - a < 0.5) }')"
run run curve.yaml -q -o within.h5 -s impacts.1.speed='2 m/s'
same "within the curve: no warning" 0 "$(grep -c warning out)"
sed -i 's/- {foam: bench, density: 60 kg.m3, thickness: 20 mm}/- {foam: eps, density: 60 kg\/m3, thickness: 20 mm}/' curve.yaml
run run curve.yaml -q -o past.h5
says "past the curve: the other layer" out "impact 1 (pad, layer 2: to "
cat >helmet.yaml <<'END'
headform: {size: J}
shell: {material: abs, thickness: 3.5 mm}
foams: {bench: {curves: [{density: 60 kg/m3, file: curve.csv}]}}
liner: {foam: bench, density: 60 kg/m3, thickness: 35 mm}
solver: {rings: 12, cell: 5 mm}
impacts: [{at: P, anvil: flat, speed: 7.5 m/s}]
END
for model in columns axisymmetric; do
    run run helmet.yaml -q -o past.h5 --model $model
    says "past the curve, $model" out "further: impact 1 (liner, layer 1: to "
done

# the shell's strain beside the failure strain of its material: told, and warned of where it is beyond
cat >strain.yaml <<'END'
headform: {size: J}
shell: {material: abs, thickness: 3.5 mm}
liner: {foam: eps, density: 40 kg/m3, thickness: 35 mm}
solver: {rings: 12, cell: 5 mm}
impacts: [{at: P, anvil: flat, speed: 2 m/s}, {at: P, anvil: hemisphere, speed: 5 m/s}]
END
for model in columns axisymmetric; do
    run run strain.yaml -q --json --model $model -f
    share=$(awk -F'[ :,]+' '/"shell_strain"/ { strain = $3 } /"shell_strain_fraction"/ { print strain / $3 }' out | xargs)
    same "shell strain, $model: the failure strain of abs is 20 %" "0.2 0.2" "$share"
    same "shell strain, $model: no warning" 0 "$(grep -c 'shell strained' out)"
    run run strain.yaml -q --model $model -f -s shell.failure_strain='0.5 %'
    says "shell strain, $model: the worst is told" out " of the failure strain of its material, in impact 2"
    says "shell strain, $model: warned of" out \
        "warning: shell strained beyond the failure strain of its material, where nothing fails in the computation: impact "
done
# a shell that lies loose: another answer, and the ledger closes
for model in columns axisymmetric; do
    peaks=
    for bond in 'bonded' 'loose' 'loose, bond_friction: 0'; do
        run run strain.yaml -q --json --model $model -f -s "shell={material: abs, thickness: 3.5 mm, bond: $bond}"
        peaks="$peaks $(awk -F'[ :,]+' '/"peak_g": [0-9]/ { print $3 }' out | xargs)"
        same "bond: $bond, $model: ledger closed to 0.1 %" "1 1" \
            "$(awk -F'[ :,]+' '/"balance_error"/ { print $3 < 1e-3 }' out | xargs)"
    done
    same "bond, $model: six answers" 6 "$(echo $peaks | tr ' ' '\n' | sort -u | grep -c .)"
done
says "bond: loose is told" out "the shell lies loose on the liner, friction 0"
run run strain.yaml -v -f --model columns -s shell.bond=loose
says "bond: loose, what columns leave out" out "foam parts from the shell, but does not slide along it"
# layers that slip: by zones they change the answer, with friction too; by columns nothing
layers='[{density: 50 kg/m3, thickness: 17 mm}, {density: 30 kg/m3, thickness: 18 mm}]'
peaks=
for interface in bonded slip 'slip, interface_friction: 0.1'; do
    run run strain.yaml -v -f --model axisymmetric --json \
        -s liner="{foam: eps, interface: $interface, regions: [{name: all, layers: $layers}]}"
    exits "interface: $interface: status" 0
    peaks="$peaks $(sed -n 's/.*"peak_g": *\([0-9.]*\).*/\1/p' out | head -1)"
done
same "interface: three answers" 3 "$(echo $peaks | tr ' ' '\n' | sort -u | grep -c .)"
run run strain.yaml -v -f --model columns -s liner='{foam: eps, density: 40 kg/m3, thickness: 35 mm, interface: slip}'
says "interface: slip is told" out \
    "layers of the liner slip on each other and part, friction 0.3: from memory, unchecked; by columns"
says "interface: slip, one layer" out "warning: interface: slip changes nothing, as no region has two layers"
says "interface: slip, by columns" out "warning: interface: slip changes nothing by columns"
run check strain.yaml -s liner='{foam: eps, density: 40 kg/m3, thickness: 35 mm, interface_friction: 0.2}'
exits "interface_friction of bonded layers: status" 2
says "interface_friction of bonded layers" err \
    '`interface_friction` is for layers with `interface: slip`'
# faster, the ball uses the liner up, whose corners are held open at the axis
run run strain.yaml -q -f --model axisymmetric --json -s impacts.2.speed='7 m/s'
exits "a liner used up: status" 0
same "a liner used up: both hits are computed" 2 "$(grep -c "status.*computed" out)"
# far beyond any drop a zone still folds
run run strain.yaml -q -f --model axisymmetric -s impacts.2.speed='60 m/s'
exits "a folded zone: status" 5
says "a folded zone: time and place" err " ms: region 'liner', layer 1, ring "
says "a folded zone: what it is" err "strain.yaml: error: impact 2: a zone is folded at "
run run strain.yaml -q --json -f -s shell='{density: 1000 kg/m3, youngs_modulus: 2 GPa, poisson: 0.4, thickness: 3 mm}'
same "shell strain: no failure strain known" 2 "$(grep -c '"shell_strain_fraction": null' out)"

# a laminate that cracks: its energy is told apart and the ledger closes; without crack_energy nobody hears of it
cat >cracks.yaml <<'END'
headform: {size: J}
shell: {material: glass-epoxy, thickness: 2 mm, failure_strain: 1.2 %, crack_energy: 60 kJ/m2}
liner: {foam: eps, density: 50 kg/m3, thickness: 40 mm}
solver: {rings: 24, cell: 3 mm}
impacts: [{at: P, anvil: hemisphere, speed: 4.5 m/s}]
END
for model in columns axisymmetric; do
    run run cracks.yaml -q --json --model $model -f
    same "cracks, $model: more than 5 J of 56, ledger closed to 0.1 %" "1 1" "$(awk -F'[ :,]+' \
        '/"damage_J"/ { most = $3 > 5 && $3 < 56 } /"balance_error"/ { print most, $3 < 1e-3 }' out)"
    says "cracks, $model: warned of" out '"shell cracked: impact 1 ('
    same "cracks, $model: not of the strain" 0 "$(grep -c 'nothing fails' out)"
    run show cracks.h5 --csv
    says "cracks, $model: in the CSV too" out "shell_J,damage_J,comfort_J"
    run run cracks.yaml -q --json --model $model -f -s shell='{material: glass-epoxy, thickness: 2 mm}'
    same "no crack_energy, $model: no damage" 0 "$(grep -c 'damage_J' out)"
    run show cracks.h5 --csv
    same "no crack_energy, $model: none in the CSV" 0 "$(grep -c 'damage_J' out)"
done
run run cracks.yaml -f -s shell.crack_energy='20 kJ/m2' -s solver.rings=12
says "cracks too brittle for the rings: said" out \
    "a crack that takes 20 kJ/m2 needs rings less than 6.04 mm apart: solver.rings of "
run check cracks.yaml -s shell.material=abs
says "cracks: not in a shell that yields" err "\`crack_energy\` is for shells that do not yield, and this one has a"

# open cells need what stops them from being crushed to nothing
cat >open.yaml <<'END'
foams: {sponge: {density: 60 kg/m3, gas_pressure: 0 kPa, collapse_stress: 100 kPa, youngs_modulus: 2 MPa}}
pad: {area: 60 cm2, layers: [{foam: sponge, thickness: 20 mm}]}
striker: {mass: 5 kg}
impacts: [{speed: 1 m/s}]
END
run check open.yaml
exits "open cells without densification: status" 3
says "open cells without densification: what is needed" err "open cells (gas_pressure 0) need a densification_modulus"
run check open.yaml -s foams.sponge.densification_modulus='1 MPa' -s foams.sponge.unloading_softening=0
exits "open cells with densification: status" 0

# what is from memory is told of every material, and not of what the case gives itself
cat >memory.yaml <<'END'
headform: {size: J}
shell: {material: polycarbonate, thickness: 3.5 mm, hardening: 1 MPa}
comfort: {foam: comfort-soft, thickness: 8 mm}
foams: {bench: {stress_10: 0.3 MPa, density: 45 kg/m3, rate_gain: 0.05, temperature: [[20 degC, 1], [25 degC, 1]]}}
liner:
  regions:
    - {name: crown, centre: [90 deg, 0 deg], half_angle: 30 deg, layers: [{foam: bench, thickness: 30 mm}]}
    - {name: rest, layers: [{foam: epp, density: 50 kg/m3, thickness: 30 mm}]}
solver: {rings: 8, cell: 5 mm, duration: 1 ms}
impacts: [{at: P, anvil: flat, speed: 6 m/s}]
END
run run memory.yaml -v -q
memory() {
    same "from memory: $1" "$2" "$(sed -n "s/^assumed: $1: from memory, unchecked: \(.*\) (see .*/\1/p" out)"
}
memory "comfort padding comfort-soft" "density, collapse_stress"
memory "shell polycarbonate" "poisson, yield_stress, failure_strain"
memory "foam bench, like eps" \
    "solid_density, solid_modulus, gas_pressure, unloading_softening, crushed_tension, shear_friction, rate_reference"
memory "foam epp" "density, solid_density, solid_modulus, youngs_modulus, collapse_stress, hardening, knee, gas_pressure, \
crushed_tension, tensile_strength, shear_strength, shear_friction, rate_gain, rate_reference"

# padding of a case's own: what `list comfort` shows can be given
run list comfort --json
same "list comfort: what a case can give" "collapse_stress density" \
    "$(sed -n 's/.*"property": "\(.*\)".*/\1/p' out | sort -u | paste -sd ' ')"
run run memory.yaml -v -q --json
hard=$(grep -m 1 '"comfort":' out)
run run memory.yaml -v -q -f -s foams.pad='{like: comfort-soft, density: 80 kg/m3}' -s comfort.foam=pad --json
same "own padding: twice the density is twice the mass" 1 "$(awk -v a="$(grep -m 1 '"comfort":' out)" -v b="$hard" \
    'BEGIN { sub(/.*: /, "", a); sub(/.*: /, "", b); print (b > 0 && a / b > 1.999999 && a / b < 2.000001) }')"
run run memory.yaml -v -q -s foams.pad='{like: comfort-soft, density: 80 kg/m3}' -s comfort.foam=pad
memory "comfort padding pad, like comfort-soft" "collapse_stress"
run run memory.yaml -q -s foams.pad='{like: comfort-soft, collapse_stress: 60 kPa}' -s comfort.foam=pad
exits "own padding: its pressure, status" 0
same "own padding: its pressure changes the pulse" 0 "$(grep -c 'replaces: unchanged' out)"

# more foams of a case's own than anybody counts
{
    sed '/^foams/d; /^impacts/d' memory.yaml
    echo 'foams:'
    echo '  bench: {stress_10: 0.3 MPa, density: 45 kg/m3}'
    for i in $(seq 200); do echo "  f$i: {stress_10: 0.3 MPa, density: 45 kg/m3}"; done
    echo 'impacts: [{at: P, anvil: flat, speed: 6 m/s}]'
} >foams.yaml
run check foams.yaml -s liner.crown.layers.1.foam=f200
exits "201 own foams: the last is taken" 0

# a helmet lighter than its parts is refused by run as by check
cat >light.yaml <<'END'
headform: {size: J}
shell: {material: abs, thickness: 3.5 mm, helmet_mass: 0.3 kg}
liner: {foam: eps, density: 50 kg/m3, thickness: 35 mm}
impacts: [{at: P, anvil: flat, speed: 7.5 m/s}]
END
for command in check run; do
    run $command light.yaml
    exits "$command of a helmet lighter than its parts: status" 3
    says "$command of a helmet lighter than its parts: place" err "light.yaml:2:56: error: shell, liner and comfort"
done
same "nothing is written for it" absent "$([ -e light.h5 ] && echo there || echo absent)"

# a headform without shape data: no radius follows for any site, so nothing is computed; it is told, and is no error
sed -i 's/headform: .*/headform: {size: AA}/' own.yaml
missing="this headform has no shape data: give its \`circumference\` or \`radius\`"
run check own.yaml
exits "no shape, check: status" 0
says "no shape, check: told" out "       not computed: $missing"
same "no shape, check: no figure that needs it" 0 "$(grep -c 'nan\|inner face\|masses' out)"
run check --json own.yaml
says "no shape, check in JSON: told" out "\"not_computed\": \"$missing\""
run run own.yaml -f
exits "no shape: status" 0
says "no shape: told of each impact" out "not computed  $missing"
says "no shape: the headform, no mass" out "headform en-960 AA, 2.95 kg; 2 impacts, 2 not computed"
same "no shape: nothing to draw" 0 "$(grep -c 'foampulse plot' err)"
says "no shape: verdict" out "own.yaml: incomplete; 2 of 2 hits not computed"
run run own.yaml -f --gate
exits "no shape: status with --gate" 7
run run own.yaml -f -s headform.circumference='490 mm' --gate
says "no shape, a circumference given: computed" out "exceeds a limit in 2 of 2 hits"
run run own.yaml -f -s headform='{mass: 4.7 kg}'
says "own headform of a mass alone" out "headform of its own, 4.70 kg; 2 impacts, 2 not computed"
finish
