# run: tables against goldens, JSON, statuses, files, standard input, interrupts.
#
# Goldens are in tests/cli/golden. After a wanted change: GOLDEN=write sh tests/cli/run_test.sh, then read the diff.
. "$(dirname "$0")/harness.sh"
golden=$source/tests/cli/golden
cd "$scratch" || exit 1
mkdir results other

# golden NAME: standard input is as the golden says.
golden() {
    cat >got
    [ "${GOLDEN:-}" = write ] && cp got "$golden/$1"
    if diff -u "$golden/$1" got >diff; then ok "golden $1"; else not_ok "golden $1" "$(cat diff)"; fi
}

# Every number becomes a #, and blanks one or two: the words and the order of the columns are left.
masked() {
    sed -e 's/[0-9][0-9.]*/#/g' -e 's/[-+]#/#/g' -e 's/   */  /g' "$@"
}

# hash FILE: its content hash, the only 64 hexadecimal digits in it.
hash() {
    grep -aoE '[0-9a-f]{64}' "$1"
}

# there NAME FILE..., absent NAME FILE...: the files are there, are not.
there() {
    name=$1
    shift
    for file in "$@"; do
        if [ -s "$file" ]; then ok "$name: $file"; else not_ok "$name: $file" "not there"; fi
    done
}
absent() {
    name=$1
    shift
    for file in "$@"; do
        if [ -e "$file" ]; then not_ok "$name: no $file" "there"; else ok "$name: no $file"; fi
    done
}

# A bench test that is solved in milliseconds: pad SPEED [LINE...]
pad() {
    printf 'pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\nstriker: {mass: 5 kg}\n'
    printf 'impacts: [{speed: %s m/s}]\n' "$1"
    shift
    for line in "$@"; do printf '%s\n' "$line"; done
}

# --- tables
cp "$source/cases/bench-pad.yaml" "$source/cases/smallest.yaml" "$source"/cases/demo/*.yaml .
run run bench-pad.yaml
exits "pad: status" 0
golden run-pad.txt <out
says "pad: file told" err "wrote bench-pad.h5"
says "pad: next command" err "next: foampulse plot bench-pad.h5"
run run smallest.yaml -s limits.peak_g="900 g" -s limits.hic=90000
exits "helmet: status" 0
masked out | golden run-helmet.txt
quick="-s solver.rings=16 -s solver.cell=5mm"
run run single.yaml crown.yaml brow.yaml $quick -s limits.peak_g="900 g" -q -o results/
exits "family: status" 0
silent "family: -q" err
there family results/single.h5 results/crown.h5 results/brow.h5
absent family single.h5 crown.h5 brow.h5
margins=$(awk '/^$/ { exit } / too stiff: | bottoms out: / { print $12 }' out)
same "family: five rows" 5 "$(echo "$margins" | wc -l | tr -d ' ')"
same "family: the least margin first" "$(echo "$margins" | sort -n)" "$margins"
says "family: baseline" out "Two-density crown against the baseline, Single density; helmet"
says "family: the third too" out "Dense brow against the baseline, Single density; helmet"
says "family: what the mesh decides" out "same within the mesh error: peak g within 2 %"
says "family: best of them" out "largest least margin: "
same "family: a verdict each" 3 "$(grep -cE '^(Single|Two|Dense).*; least margin .* at .* m/s' out)"
same "family: the caution is the last line" "Prediction, to compare layouts and prepare physical tests" \
    "$(tail -n 1 out | cut -d' ' -f1-8)"
if grep -qiwE 'pass|passed|passes|safe|certified|approved|compliant' out; then
    not_ok "words of a verdict" "$(cat out)"
else
    ok "words of a verdict"
fi

# names of 40 letters, titles of two bytes a letter: the columns stay where they are
name=abcdefghijklmnopqrstuvwxyzabcdefghijklmn
{
    printf 'headform: {size: J}\nshell: {material: abs, thickness: 3.5 mm}\nsolver: {rings: 8, cell: 5 mm}\n'
    printf 'liner: {foam: eps, density: 50 g/l, thickness: 35 mm}\nsites: {%s: [70 deg, 0 deg]}\n' $name
    printf 'impacts: [{at: %s, anvil: flat, speed: 4 m/s}, {at: P, anvil: hemisphere, speed: 5 m/s}]\n' $name
    printf 'limits: {peak_g: 900 g}\ntitle: "\303\251\303\251\303\251"\n'
} >long.yaml
run run long.yaml -q
exits "long names: status" 0
same "long names: both rows" 2 "$(grep -c ' within: ' out)"
same "long names: the verdicts stand in one column" "$(awk '/ verdict  / { print index($0, " verdict  ") }' out)" \
    "$(awk '/ within: / { print index($0, " within: ") }' out | sort -u)"

# --- more rows than eight
{
    pad 3 'limits: {peak_g: 200 g}' | sed '/^impacts/d'
    echo 'impacts:'
    for speed in 2.0 2.1 2.2 2.3 2.4 2.5 2.6 2.7 2.8 2.9; do echo "  - {speed: $speed m/s}"; done
} >many.yaml
run run many.yaml -q
same "eight rows" 8 "$(grep -c ' within: ' out)"
says "eight rows: the rest" out "and 2 more (--all)"
same "eight rows: the worst is first" 10 "$(awk '/ within: / { print $1; exit }' out)"
run run many.yaml -q --all
same "--all: every row" 10 "$(grep -c ' within: ' out)"

# --- what changed
says "changes: none" out "many.h5 against the result that it replaces: unchanged"
run run many.yaml -q -s impacts.3.speed="2.95 m/s"
same "changes: the one row" 1 "$(grep -c 'no such impact there' out)"
run run many.yaml -q
run run many.yaml -q -s pad.layers.1.density="60 g/l"
same "changes: eight of ten rows" 2 "$(grep -c 'and 2 more (--all)' out)"
says "changes: head" out "many.h5 against the result that it replaces"

# --- what was not computed is not said to be unchanged: epp has no factor at -20 degC
{
    pad 4 'limits: {peak_g: 200 g}' | sed '/^impacts/d'
    echo 'impacts: [{speed: 4 m/s}, {speed: 4 m/s, condition: cold}]'
} >with.yaml
sed 's/foam: eps/foam: epp/' with.yaml >without.yaml
mkdir again
cp without.yaml again/second.yaml
run run without.yaml again/second.yaml with.yaml -q -o other/
exits "baseline, not computed: status" 0
sed -n '/second.* against the baseline/,/with.yaml against/p' out >second
same "baseline: one row is unchanged" 1 "$(grep -c ' 23 .*unchanged$' second)"
same "baseline: one row is not computed" 1 "$(grep -c -- ' -20 .* not computed$' second)"
same "baseline: not computed there" 1 "$(grep -c -- ' -20 .* not computed there$' out)"
run run without.yaml -q
run run without.yaml -q
says "changes: none, and what was not computed" out \
    "without.h5 against the result that it replaces: unchanged, 1 of 2 hits not computed"

# --- JSON
run run bench-pad.yaml --json -q
exits "JSON: status" 0
silent "JSON: nothing on stderr" err
sed -n 's/^ *"\([^"]*\)": .*/\1/p' out | sort -u | golden run-keys.txt
says "JSON: schema" out '"schema": "foampulse/summary/1"'
says "JSON: file" out '"result_file": "bench-pad.h5"'
says "JSON: what does not apply is null" out '"peak_rot_acc_rad_s2": null'
same "JSON: no NaN, no infinity" 0 "$(grep -ciE ': -?(nan|inf)' out)"
says "JSON: no edge about a pad" out '"edge_distance_mm": null'
# 120 deg from the crown to the lower edge at -30 deg, about a radius of 101 x 79.8 / sqrt(101 x 79.8) + 35 mm
run run smallest.yaml $quick --json -q
same "JSON: distance to the edge" 261.3 "$(sed -n 's/.*"edge_distance_mm": \([0-9.]*\),.*/\1/p' out | xargs printf %.1f)"
run check smallest.yaml --json
same "JSON: the same in check" 261.3 "$(sed -n 's/.*"edge_distance_mm": \([0-9.]*\),.*/\1/p' out | xargs printf %.1f)"
run show smallest.h5 --csv
same "CSV: the same" 261.3 "$(awk -F, 'NR == 1 { for (i = 1; i <= NF; i++) if ($i == "edge_distance_mm") at = i } NR == 2 { printf "%.1f", $at }' out)"
run run smallest.yaml $quick -s shell.lower_edge="-90 deg" --json -q
says "JSON: a closed shell has no edge" out '"edge_distance_mm": null'

# --- both bounds of a site with an opening on its rings: in the table, in JSON, in the file; the larger counts
{
    printf 'headform: {size: J}\nshell: {material: abs, thickness: 3.5 mm}\nsolver: {rings: 16, cell: 5 mm}\n'
    printf 'liner: {foam: eps, regions: [{name: hole, elevation: [-30 deg, 5 deg], azimuth: [-60 deg, 60 deg], open: true},\n'
    printf '    {name: rest, layers: [{density: 45 g/l, thickness: 35 mm}]}]}\n'
    printf 'impacts: [{at: front, anvil: flat, speed: 5 m/s}, {at: P, anvil: flat, speed: 5 m/s}]\n'
} >opening.yaml
pair() { sed -n "s/.*edge: impact 1 \([0-9.]*\)-\([0-9.]*\) g, HIC \([0-9]*\)-\([0-9]*\), kept counts (.*/\1 \2 \3 \4/p" out; }
for model in columns axisymmetric; do
    run run opening.yaml -q -o $model.h5 --model $model
    exits "opening, $model: status" 0
    masked out | golden run-opening.txt
    pair >bounds
    same "opening, $model: the higher of two" "higher" "$(awk '{ print ($1 > 1.02 * $2 ? "higher" : "not") }' bounds)"
    same "opening, $model: it is in the row" "$(cut -d' ' -f1,3 bounds)" "$(awk '$1 == 1 && $2 == "front" { print $6, $8 }' out)"
    run show $model.h5
    same "opening, $model: the same from the file" "$(cat bounds)" "$(pair)"
    run show $model.h5 --json
    same "opening, $model: the same in JSON" "$(cat bounds)" "$(awk '/"opening_hoop": [{]/ { on = 1 }
        on && /"peak_g"/ { split($0, a, /[:,]/); peak[++n] = a[2] } on && /"hic"/ { split($0, a, /[:,]/); hic[n] = a[2] }
        n == 2 && hic[2] { printf "%.1f %.1f %.0f %.0f", peak[1], peak[2], hic[1], hic[2]; exit }' out)"
    same "opening, $model: the crown has none" 1 "$(grep -c '"opening_hoop": null' out)"
    run show $model.h5 --csv
    same "opening, $model: the same in CSV" "$(cat bounds)" "$(awk -F, 'NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i }
        NR == 2 { printf "%.1f %.1f %.0f %.0f", $at["hoop_kept_peak_g"], $at["hoop_cut_peak_g"], $at["hoop_kept_hic"],
            $at["hoop_cut_hic"] }' out)"
done
run run none.yaml --json
exits "JSON, error: status" 4
silent "JSON, error: nothing on stderr" err
says "JSON, error: schema" out '"schema": "foampulse/error/1"'
pad 4 "title: \"$(printf '\342\200\256')\"" >hidden.yaml
run run hidden.yaml --json -q
same "JSON: only ASCII" 0 "$(LC_ALL=C grep -c '[^ -~]' out)"

# --- the same bits for any number of threads and any instruction set
hash results/single.h5 >wanted
same "one content hash" 1 "$(grep -c . wanted)"
for jobs in 1 2 4; do
    run run single.yaml $quick -s limits.peak_g="900 g" -q -o j.h5 -j $jobs
    same "-j $jobs: content hash" "$(cat wanted)" "$(hash j.h5)"
done
for isa in base v3 v4; do
    FOAMPULSE_ISA=$isa "$FOAMPULSE" run single.yaml $quick -s limits.peak_g="900 g" -q -o isa.h5 -v >out 2>err
    if grep -q "instruction set $isa," out; then
        same "FOAMPULSE_ISA=$isa: content hash" "$(cat wanted)" "$(hash isa.h5)"
    else
        echo "figure: FOAMPULSE_ISA=$isa is not on this machine and is not compared"
    fi
done
run run single.yaml $quick -s limits.peak_g="900 g" -s impacts.1.speed="6.01 m/s" -q -o j.h5
if [ "$(hash j.h5)" = "$(cat wanted)" ]; then not_ok "another speed, another hash" equal; else
    ok "another speed, another hash"
fi

# --- an impact that fails: no foam of this kind takes up the 22 kJ of the second one; the others are kept
{
    echo 'foams: {soft: {gas_pressure: 0 kPa, densification_modulus: 1 kPa}}'
    pad 3 'limits: {peak_g: 200 g}' | sed -e '/^impacts/d' -e 's/foam: eps/foam: soft/'
    echo 'impacts: [{speed: 3 m/s}, {speed: 95 m/s}, {speed: 4 m/s}]'
} >fails.yaml
run run fails.yaml
exits "failed impact: status" 5
same "failed impact: the others are judged" "3 1" "$(awk '/ within: / { print $1 }' out | xargs)"
used_up=" ms: layer 1 bottomed out (cell 20 of 20 from the anvil is crushed to nothing; soft is solid from 95.2 % on)"
says "failed impact: its row" out "failed          the pad is used up at "
says "failed impact: its row, the layer" out "$used_up"
says "failed impact: verdict" out "fails.yaml: incomplete; 1 of 3 hits not computed"
says "failed impact: place and time on stderr" err "fails.yaml: error: impact 2: the pad is used up at "
there "failed impact" fails.h5
run show fails.h5
exits "failed impact, show: status" 0
same "failed impact, show: the others are in the file" "3 1" "$(awk '/ within: / { print $1 }' out | xargs)"
says "failed impact, show: the failure too" out "failed          the pad is used up at "
run run fails.yaml --gate
exits "failed impact, --gate: status" 5
run run fails.yaml --json -f
exits "failed impact in JSON: status" 5
same "failed impact in JSON: one object" "computed failed computed" "$(sed -n 's/^     "status": "\(.*\)",/\1/p' out | xargs)"
same "failed impact in JSON: one schema" 1 "$(grep -c '"schema"' out)"
says "failed impact in JSON: message" out '"message": "the pad is used up at '
# a shell under a head at 95 m/s
run run smallest.yaml $quick -s impacts.1.speed="95 m/s" -f -o fails.h5 --model columns
exits "failed helmet: status" 5
says "failed helmet: what it means" err "error: impact 1: the liner is used up at "
says "failed helmet: place and time" err " ms: region 'liner', layer 1 bottomed out (ring "
run run smallest.yaml $quick -s impacts.1.speed="99 m/s" -f -o fails.h5
exits "failed helmet, axisymmetric: status" 5
says "failed helmet, axisymmetric: what it means" err " ms, the liner is used up: region 'liner', layer 1, ring "

# --- the head map: five labels of a scale that holds the margins of all sites, in equal steps
{
    printf 'headform: {size: J}\nshell: {material: abs, thickness: 3.5 mm}\nsolver: {rings: 8, cell: 5 mm}\n'
    printf 'liner: {foam: eps, density: 50 g/l, thickness: 35 mm}\nlimits: {peak_g: 150 g}\n'
    printf 'impacts: [{at: P, speed: 7 m/s}, {at: rear, speed: 6 m/s}, {at: right, speed: 4 m/s}]\n'
} >margins.yaml
run run margins.yaml -q
run plot margins.h5 --picture headmap --format svg
exits "head map: status" 0
same "head map: all within the scale" "8 labels, 0 outside" "$(sed -n 's/.*<text>\(.*\) %<.*/\1/p' margins.headmap.svg | sed 's/−/-/' |
    awk 'NR == 1 { low = $1 } NR == 5 { high = $1 } NR > 5 && ($1 < low || $1 > high) { n++ }
        END { print NR " labels, " n + 0 " outside" }')"

# two sites in one place share a ring and its name; a dash is explained; no margin is above 100 %
run run margins.yaml -q -f -s impacts='[{at: P, speed: 7 m/s}, {at: crown, speed: 3 m/s}, {at: B, speed: 1 m/s},
    {at: R, speed: 5 m/s, temperature: -40 degC}]'
run plot margins.h5 --picture headmap --format svg
text() { sed -n 's/.*<text>\(.*\)<.text>.*/\1/p' margins.headmap.svg; }
same "head map: two sites in one place" "P/crown" "$(text | grep crown)"
same "head map: what a dash means" "–: no margin" "$(text | grep -A1 '^–: no' | xargs)"
same "head map: the scale ends at 100 %" "100 %" "$(text | grep '^[1-9][0-9][0-9] %')"

# --- verdicts and --gate: gate VERDICT STATUS [LINE...]
gate() {
    verdict=$1 wanted=$2
    shift 2
    pad 4 "$@" >gate.yaml
    run run gate.yaml -q --gate
    exits "--gate, $verdict: status" "$wanted"
    says "--gate, $verdict: verdict" out "gate.yaml: $verdict"
    run run gate.yaml -q
    exits "$verdict, no --gate: status" 0
}
gate within 0 'limits: {peak_g: 200 g}'
gate tight 0 'limits: {peak_g: 200 g}' 'target: 10 %'
gate exceeds 7 'limits: {peak_g: 20 g}'
gate "no limit" 7
gate undecided 7 'limits: {peak_g: 200 g}' 'solver: {duration: 3 ms}'
says "undecided: told" out "still moving into the foam when the run ended, raise solver.duration: impact 1 ("
says "undecided: how many" out "gate.yaml: undecided; 1 of 1 hits undecided"
gate exceeds 7 'limits: {peak_g: 5 g}' 'solver: {duration: 3 ms}'
pad 4 'limits: {peak_g: 200 g}' | sed -e 's/foam: eps/foam: epp/' -e 's/speed: 4 m.s/&, condition: cold/' >cold.yaml
run run cold.yaml -q
exits "not computed: no error" 0
says "not computed: the row says why" out "  not computed  "
says "not computed: verdict" out "cold.yaml: incomplete; 1 of 1 hits not computed"
run run cold.yaml -q --gate
exits "not computed: --gate" 7
pad 4 'limits: {peak_g: 20 g}' >over.yaml
pad 4 'limits: {peak_g: 200 g}' >under.yaml
run run under.yaml over.yaml -q --gate
exits "--gate, one of two exceeds" 7
run run bench-pad.yaml -q --gate
exits "--gate, several hits: status" 0

# --- files
printf 'mine\n' >foreign.h5
pad 4 >foreign.yaml
run run foreign.yaml
exits "foreign file: status" 4
silent "foreign file: nothing solved" out
says "foreign file: told" err "foreign.h5: error: is there already"
same "foreign file: untouched" mine "$(cat foreign.h5)"
run run foreign.yaml -f -q
exits "foreign file, -f: status" 0
run show foreign.h5
exits "foreign file, -f: replaced" 0
ln -s foreign.h5 link.h5
pad 4 >link.yaml
run run link.yaml
exits "a link to elsewhere: status" 4
run run bench-pad.yaml -o /proc/
exits "folder that cannot be written: status" 4
silent "folder that cannot be written: nothing solved" out
run run bench-pad.yaml many.yaml -o both.h5
exits "several cases into one file: status" 2
cp many.yaml other/
run run many.yaml other/many.yaml -o results/
exits "two results of one name: status" 2
run run bench-pad.yaml many.yaml -s title=x -o results/
exits "two titles alike: status" 0
says "two titles alike: told apart by file" out "many.yaml against the baseline, bench-pad.yaml"
run run bench-pad.yaml -o bench-pad.yaml -f
exits "a result in the place of its case: status" 2
run check bench-pad.yaml
exits "a result in the place of its case: the case stands" 0
hash under.h5 >wanted
(
    ulimit -f 16
    "$FOAMPULSE" run under.yaml -q 2>&1
    echo "status $?"
) | cat >out
says "full disk: status" out "status 4"
says "full disk: told" out "under.h5: error: cannot be written in full"
says "full disk: the table all the same" out "under.yaml: within"
same "full disk: the earlier result stands" "$(cat wanted)" "$(hash under.h5)"
same "full disk: nothing left behind" 0 "$(find . -name '*.tmp' -o -name '*.part' | grep -c .)"
"$FOAMPULSE" run under.yaml -q >/dev/full 2>err
same "full standard output: status" 4 $?
says "full standard output: told" err "standard output could not be written"
"$FOAMPULSE" run under.yaml >both 2>&1
same "messages stand behind the table" "next: foampulse plot under.h5" "$(tail -n 1 both)"

# --- each case of a command keeps a file open: the limit of the process is raised, or the command is refused
mkdir many.d
pad 4 'solver: {duration: 1 ms, cell: 5 mm}' >many.d/1.yaml
i=1
while [ $i -lt 100 ]; do
    i=$((i + 1))
    cp many.d/1.yaml many.d/$i.yaml
done
(ulimit -Sn 80 && exec "$FOAMPULSE" run many.d/*.yaml -q >out 2>err)
same "more cases than open files: status" 0 $?
same "more cases than open files: results" 100 "$(ls many.d | grep -c 'h5$')"
rm many.d/*.h5
(ulimit -n 80 && exec "$FOAMPULSE" run many.d/*.yaml -q >out 2>err)
same "more cases than files may be open: status" 4 $?
says "more cases than files may be open: told" err "needs 100 files open at a time and may have 80 (\`ulimit -Hn\`)"
silent "more cases than files may be open: nothing solved" out
same "more cases than files may be open: nothing left" 100 "$(ls many.d | grep -c .)"

# --- one bad case of several: nothing is run, nothing written
pad 4 >good.yaml
pad 4 | sed 's/5 kg/5/' >bad.yaml
run run good.yaml bad.yaml
exits "one bad case: status" 3
says "one bad case: place" err "bad.yaml:2:"
silent "one bad case: nothing on stdout" out
pad 4 'foams: {mine: {density: 50 kg/m3, youngs_modulus: 1 kPa}}' |
    sed 's/foam: eps, density: 50 g.l/foam: mine/' >soft.yaml
run run good.yaml soft.yaml
exits "one case of a foam that cannot be: status" 3
silent "one case of a foam that cannot be: nothing on stdout" out
absent "one bad case" good.h5 bad.h5 soft.h5

# --- standard input
pad 4 | "$FOAMPULSE" run - -q >out 2>err
same "standard input: status" 0 $?
says "standard input: named so" out "standard input: no limit"
silent "standard input: no message" err
same "standard input: no file" 0 "$(find . -name 'stdin*' -o -name '-*' | grep -c .)"
pad 4 | "$FOAMPULSE" run - -q -o results/ >out 2>err
same "standard input into a folder: status" 0 $?
there "standard input into a folder" results/stdin.h5
run run - -
exits "standard input twice: status" 2
run run good.yaml --model spheres
exits "a model that is not there: status" 2

# --- interrupted: what is solved is kept, the rest says so; a case that was not begun keeps its earlier result
{
    sed '/^impacts/d' smallest.yaml
    echo 'impacts:'
    for i in 1 2 3 4 5 6 7 8; do
        echo "  - {at: P, anvil: flat, speed: 5.$i m/s}"
        echo "  - {at: P, anvil: hemisphere, speed: 4.$i m/s}"
    done
} >slow.yaml
start=$(date +%s%N)
run run smallest.yaml -q -j 1
took=$((($(date +%s%N) - start) / 1000000 + 1))
hash smallest.h5 >wanted
"$FOAMPULSE" run slow.yaml smallest.yaml -j 1 >out 2>err </dev/null &
pid=$!
sleep "$(awk "BEGIN { print 4 * $took / 1000 }")"
kill -INT $pid
wait $pid
same "interrupted: status" 130 $?
says "interrupted: what is kept" err "kept what is solved in slow.h5.part: the same command goes on from there"
run show slow.h5 --all
exits "interrupted: the file is whole" 0
solved=$(grep -cE ' (within|exceeds|tight): ' out)
waiting=$(grep -c 'interrupted before it was solved' out)
same "interrupted: every impact is there" 16 $((solved + waiting))
if [ "$solved" -gt 0 ] && [ "$waiting" -gt 0 ]; then ok "interrupted: some solved, some not"; else
    not_ok "interrupted: some solved, some not" "$solved and $waiting"
fi
says "interrupted: verdict" out "hits not computed"
same "interrupted: a case that was not begun" "$(cat wanted)" "$(hash smallest.h5)"
there "interrupted: journal" slow.h5.part
absent "interrupted: journal of a case that was not begun" smallest.h5.part

# --- gone on with
run run slow.yaml -q -o whole.h5
printf 'half a record' >>slow.h5.part
run run slow.yaml -s title=x -j 1 -o slow.h5
says "gone on, another title" err "slow.h5.part: 0 of 16 impacts taken from the journal; $solved others in it are not of this state"
says "gone on, a torn end" err "slow.h5.part: 13 bytes behind its last whole record are cut off"
absent "gone on, another title: the result stands" slow.h5.part
"$FOAMPULSE" run slow.yaml -j 1 -q -o slow.h5 >out 2>err </dev/null &
pid=$!
for wait in $(seq 600); do
    [ "$(find slow.h5.part -size +500k 2>/dev/null)" ] && break
    sleep 0.1
done
run run slow.yaml -o slow.h5
exits "a second process on a result: status" 4
says "a second process on a result: told" err "slow.h5.part: error: another process is working on this result"
silent "a second process on a result: nothing solved" out
run run smallest.yaml slow.yaml -q -f -o ./
exits "a second process on one of two results: status" 4
absent "a second process on one of two results" smallest.h5.part
same "a second process on one of two results: the other" "$(cat wanted)" "$(hash smallest.h5)"
kill -KILL $pid
wait $pid
there "killed: journal" slow.h5.part
run run slow.yaml -o slow.h5
exits "gone on: status" 0
taken=$(sed -n 's/^slow.h5.part: \([0-9]*\) of 16 impacts taken from the journal$/\1/p' err)
if [ "${taken:-0}" -gt 0 ]; then ok "gone on: taken"; else not_ok "gone on: taken" "$(cat err)"; fi
same "gone on: the result of an undisturbed run" "$(hash whole.h5)" "$(hash slow.h5)"
absent "gone on: the journal goes" slow.h5.part
printf 'mine' >under.h5.part
run run under.yaml
exits "another file under the journal's name: status" 4
says "another file under the journal's name: told" err "under.h5.part: error: is there already and is no journal"
silent "another file under the journal's name: nothing solved" out
same "another file under the journal's name: untouched" mine "$(cat under.h5.part)"
rm under.h5.part
pad 4 | "$FOAMPULSE" run - -q >out 2>err
same "standard input: no journal" 0 "$(find . -name '*.part' | grep -c .)"
run run "$source/cases/bench-pad.yaml" -o -
exits "-o -: status" 2
says "-o -: said" err "a result file does not go to standard output"
run run "$source/cases/bench-pad.yaml" --model columns
exits "--model of a pad: status" 2
says "--model of a pad: said" err "is a pad, which has one model"
finish
