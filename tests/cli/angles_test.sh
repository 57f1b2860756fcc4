# Oblique impacts on anvils that have no angle of their own: named, told apart and compared everywhere.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

# helmet INERTIA IMPACT...: a case; INERTIA of the head about its axis to the right [kg m2]
helmet() {
    echo "headform: {size: J, inertia: [0.020 kg m2, $1 kg m2, 0.021 kg m2]}"
    echo "shell: {material: abs, thickness: 3.5 mm}"
    echo "liner: {foam: eps, density: 45 g/l, thickness: 40 mm}"
    echo "model: columns"
    echo "solver: {rings: 16, cell: 5 mm}"
    echo "limits: {peak_g: 275 g}"
    echo "impacts:"
    shift
    for impact in "$@"; do
        echo "  - {at: crown, $impact, speed: 5 m/s}"
    done
}
square="anvil: flat" up="anvil: flat, angle: 33.3 deg, towards: front" down="anvil: flat, angle: 33.3 deg, towards: rear"
rough="$up, friction: {anvil: 0.6}" held="$up, friction: {head: 0.5}" own="anvil: {shape: flat, angle: 20 deg}, towards: right"
steep="anvil: abrasive-45, towards: [10 deg, 30 deg]"
helmet 0.023 "$square" "$up" "$down" "$rough" "$held" "$own" "$steep" >a.yaml

run check a.yaml
says "check: square" out "  flat                   23 degC  5 m/s"
says "check: angle" out "  flat 33.3 deg          23 degC  5 m/s"
says "check: own anvil" out "  own flat 20 deg        23 degC  5 m/s"
says "check: an anvil with an angle" out "  abrasive-45            23 degC  5 m/s"
says "check: towards" out "face at 33.3 deg, towards front; friction 0.35 of shell on face, 0.16 of liner on head"
says "check: friction on the anvil" out "face at 33.3 deg, towards front; friction 0.6 of shell on face, 0.16 of"
says "check: friction on the head" out "0.35 of shell on face, 0.5 of liner on head"
says "check: an angle of the anvil's own" out "face at 45 deg, towards [10, 30]; friction 0.55 of shell"
same "check: nothing of it square on" 6 "$(grep -c 'face at ' out)"
run check a.yaml --json
same "check --json: a square impact has none" 1 "$(grep -c '"oblique": null' out)"
same "check --json: friction" 1 "$(grep -c '"face_friction": 0.6' out)"
same "check --json: towards" 2 "$(grep -A 8 '"towards_deg"' out | grep -cE '^ *(10|30)\.0')"

run run a.yaml
exits "run: status" 0
same "run: rows with the angle" 4 "$(grep -c 'crown  flat 33.3 deg    5.00' out)"
says "run: square" out "crown  flat             5.00"
says "run: an anvil with an angle" out "crown  abrasive-45      5.00"
run run a.yaml
says "run again: every hit is found" out "a.h5 against the result that it replaces: unchanged"
run run a.yaml --json
same "JSON: the name as it was" 5 "$(grep -c '"anvil": "flat"' out)"
run show a.h5 --csv
same "CSV: the name as it was" 5 "$(grep -c ',flat,true,' out)"
helmet 0.023 "$up" >one.yaml
run run one.yaml
says "verdict" out " at crown, flat 33.3 deg, 5.00 m/s, 23 degC"
run converge one.yaml -q
says "converge" out "crown  flat 33.3 deg  5.00"

# Each is held against its own kind, though numbers differ; one that is not there is said so.
helmet 0.023 "$held" "$rough" "$up" "$square" >b.yaml
mkdir out.d
run run b.yaml a.yaml --all -o out.d/
sed -n '/against the baseline/,/^rotation/p' out >rows
same "compared: equal ones" 4 "$(grep -c '  unchanged$' rows)"
same "compared: others" "3 6 7" "$(awk '/no such impact there/ { print $1 }' rows | sort | tr '\n' ' ' | sed 's/ $//')"

# What a lighter head does to rotation, the peak does not show.
helmet 0.015 "$square" "$up" "$own" >light.yaml
helmet 0.0225 "$square" "$up" "$own" >near.yaml
helmet 0.023 "$square" "$up" "$own" >heavy.yaml
run run heavy.yaml near.yaml -o out.d/
same "rotation: within 5 %" 2 "$(awk '/same within the mesh error$/ { print $1 }' out)"
run run heavy.yaml light.yaml -o out.d/
sed -n '/against the baseline/,/^same within/p' out >rows
same "rotation: the same in peak g and HIC only" 0 "$(grep -c 'same within the mesh error$' rows)"
same "rotation: what turns about another axis" "1 3" "$(awk '/unchanged$/ { print $1 }' rows | sort | tr '\n' ' ' | sed 's/ $//')"
same "rotation: a second table" "2 3" "$(sed -n '/^rotation of the head:$/,$p' rows | awk '$2 == "crown" { print $1 }' | sort | tr '\n' ' ' | sed 's/ $//')"
says "rotation: its head" rows "  no.  site   rad/s2  change"
change=$(sed -n '/^rotation of the head:$/,$p' rows | awk '$1 == 2 { print $5 }')
same "rotation: far above 5 %" 1 "$(awk -v c="$change" 'BEGIN { print (c > 10) }')"
says "rotation: what counts as the same" rows "rotational acceleration within 5 % (common practice, no source)"
helmet 0.023 "$square" >square.yaml
run run square.yaml square.yaml -o out.d/
run run square.yaml --all
run run square.yaml -s "shell.thickness=3.4 mm"
says "square: changes" out "square.h5 against the result that it replaces"
same "square: nothing of rotation" 0 "$(grep -ciE 'rotation|rad/s' out)"
finish
