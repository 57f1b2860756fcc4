# measure: table, JSON, limits, standard input, bad files.
. "$(dirname "$0")/harness.sh"
measured=$source/cases/measured

run measure "$measured/drop-1.csv" "$measured/drop-2.csv" "$measured/drop-3.csv" --limits peak_g=275,hic=2400
exits "three drops: status" 0
silent "three drops: nothing on stderr" err
says "three drops: factor and where it is from" out "factor 2.4: from memory, unchecked"
says "three drops: peak" out "peak_g            mean + 2.4 s 230.84, limit 275 g, margin 16.1 %: within"
says "three drops: verdict" out "Verdict: within; least margin 3.8 %, hic."
says "three drops: caution last" out "Prediction, to compare layouts"
same "three drops: caution is the last line" Prediction "$(tail -n 1 "$scratch/out" | cut -d, -f1)"
if grep -qiwE 'pass|passed|safe|certified|approved|compliant' "$scratch/out"; then
    not_ok "words of a verdict" "$(cat "$scratch/out")"
else
    ok "words of a verdict"
fi

run measure "$measured/drop-1.csv" "$measured/drop-2.csv" --factor 8 --limits hic=2400 --gate
exits "factor: --gate status" 7
says "factor: bound" out "mean + 8 s"
says "factor: provenance" out "factor 8: given on the command line"
says "factor: verdict" out "Verdict: exceeds"

run measure "$measured/drop-1.csv" "$measured/drop-2.csv" "$measured/drop-3.csv" --factor 0 --limits hic=2100
says "a drop above the limit decides" out "largest pulse 2135"
says "a drop above the limit: state" out "exceeds"

run measure "$measured/drop-1.csv"
exits "no limits: status" 0
if grep -q Verdict "$scratch/out"; then not_ok "no limits: no verdict" "judged"; else ok "no limits: no verdict"; fi

printf 'pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\nstriker: {mass: 5 kg}
impacts: [{speed: 5.42 m/s}]\nlimits: {peak_g: 210 g}\n' >"$scratch/pad.yaml"
run measure "$measured/drop-1.csv" --limits "$scratch/pad.yaml"
exits "limits of a case: status" 0
says "limits of a case: where from" out "limits (those of $scratch/pad.yaml)"
says "limits of a case: judged" out "limit 210 g, margin -1.5 %: exceeds"

run measure "$measured/drop-1.csv" --limits bric=1 --gate
exits "a limit a pulse does not answer: --gate" 7
says "a limit a pulse does not answer: state" out "not computed"
says "a limit a pulse does not answer: verdict" out "Verdict: incomplete"

"$FOAMPULSE" measure - <"$measured/drop-3.csv" >"$scratch/out" 2>"$scratch/err"
same "standard input: status" 0 $?
says "standard input: named so" out "standard input"
says "standard input: decimal commas read" out "221.1"

run measure "$measured/drop-1.csv" "$measured/drop-3.csv" --limits peak_g=275 --json
exits "JSON: status" 0
silent "JSON: nothing on stderr" err
for text in '"schema": "foampulse/measure/1"' '"caution": "Prediction' '"verdict": "within"' '"crush_mm": null' \
    '"metric": "peak_g"' '"cfc": 1000' '"count": 2'; do
    says "JSON: $text" out "$text"
done
if grep -qiE ': -?(nan|inf)' "$scratch/out"; then not_ok "JSON: no NaN" "found"; else ok "JSON: no NaN"; fi


# bad input
run measure
exits "no file: status" 2
run measure - -
exits "standard input twice: status" 2
says "standard input twice: text" err "only once"
run measure "$measured/drop-1.csv" --factor 2
exits "factor of one pulse: status" 2
run measure "$measured/drop-1.csv" --gate
exits "gate without limits: status" 2
run measure "$measured/drop-1.csv" --limits peak=275
exits "unknown limit: status" 2
says "unknown limit: nearest" err "--limits: error: no limit can be set for 'peak'; did you mean 'peak_g'?"

run measure "$scratch/none.csv"
exits "missing file: status" 4
says "missing file: text" err "none.csv: error: cannot be opened: No such file or directory"
run measure "$scratch"
exits "folder: status" 4
says "folder: text" err "is a folder, not a file"
: >"$scratch/empty.csv"
run measure "$scratch/empty.csv"
exits "empty: status" 3
says "empty: text" err "empty.csv: error: the file is empty"
printf 't (ms),a (g)\n0,1\n0.1,high\n' >"$scratch/text.csv"
run measure "$scratch/text.csv"
exits "text among numbers: status" 3
says "text among numbers: place" err 'text.csv:3:5: error: "high" in column "a (g)"'
silent "text among numbers: nothing on stdout" out
run measure "$scratch/text.csv" --json
says "text among numbers, JSON: schema" out '"schema": "foampulse/error/1"'
says "text among numbers, JSON: line" out '"line": 3'
head -c 3000 "$FOAMPULSE" >"$scratch/junk.csv"
run measure "$scratch/junk.csv"
exits "binary: status" 3
says "binary: text" err "not text"
run measure "$scratch/none.csv" "$scratch/text.csv" "$measured/drop-1.csv"
exits "one bad of three: worst status" 4
says "one bad of three: all told" err "2 errors"
silent "one bad of three: nothing measured" out

# names and headers are text, nothing else
evil=$scratch/$(printf 'a\033[31mb.csv')
printf 't (ms),a (g)\n0,\342\200\256\n' >"$evil"
run measure "$evil"
exits "hostile name and cell: status" 3
if grep -q "$(printf '\033\\|\342\200\256')" "$scratch/err"; then
    not_ok "hostile name and cell: harmless" "$(cat "$scratch/err")"
else
    ok "hostile name and cell: harmless"
fi
cp "$measured/drop-1.csv" "$evil"
run measure "$evil"
exits "hostile name: read" 0
if grep -q "$(printf '\033')" "$scratch/out"; then not_ok "hostile name: harmless" "escape"; else ok "hostile name: harmless"; fi
finish
