# A helmet family from the case to pictures: every size in tables, files, messages; the same for any -j, and after a kill.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1
cat >house.yaml <<'END'
title: house
headforms: {sizes: [E, J]}
sites: [P, R]
anvils: [flat]
conditions: {ambient: 23 degC, cold: -20 degC}
tests:
  - {name: soft, speed: 4 m/s, limits: {peak_g: 500 g}, provenance: our own}
END
cat >family.yaml <<'END'
title: Family
headform: {size: J}
shell: {material: abs, thickness: 3.5 mm}
comfort: {foam: comfort-soft, thickness: 8 mm}
liner: {density: 50 g/l, thickness: 40 mm}
model: columns
solver: {rings: 5, cell: 9 mm}
impacts: [{at: crown, anvil: flat, speed: 5 m/s}]
limits: {peak_g: 400 g, helmet_mass: 3 kg}
programme: ./house.yaml
sizes:
  S: {headform.size: E, take_up: comfort}
  M: {}
  L: {headform.size: M, take_up: inner layer}
END
run run family.yaml --all
exits "family: status" 0
says "header" out "programme ./house.yaml; 3 sizes; 11 impacts"
says "a line for each size" out "  size L: headform en-960 M, 5.60 kg; helmet "
says "its limit of mass" out "(limit 3.000: within)"
says "size as a column" out "no.  size  site"
same "rows of each size" "5 5 1" "$(for s in S M L; do grep -c "^ *[0-9]*  $s  " out; done | tr '\n' ' ' | sed 's/ $//')"
says "worst by size" out "worst by size: "
says "what is not covered, and where" out "not covered: ./house.yaml: strikes headforms en-960 E, J; here it is en-960 M (size L)"
same "the verdict names the governing size" 1 "$(grep -cE '^Family: .* on size [SML] at (crown|P|R), flat' out)"
run run family.yaml --gate
exits "not covered on one size: gate" 7
run run family.yaml --gate -s 'programme={name: ./house.yaml, sizes: [S, M]}'
exits "left out by choice, struck otherwise: gate" 0
says "is listed" out "not covered: ./house.yaml: left out by \`sizes\` of the case (size L)"
sed '/^impacts/d' family.yaml >alone.yaml
run run alone.yaml --gate -s 'programme={name: ./house.yaml, sizes: [S, M]}'
exits "nothing strikes a size: gate" 7
says "nothing strikes a size: verdict" out "Family: incomplete"
says "nothing strikes a size" out "not covered: size L: nothing strikes it"
run run family.yaml -s 'programme={name: ./house.yaml, sizes: [S, XL]}'
exits "an unknown size: status" 2
says "an unknown size: place" err "--set:1:43: error: size 'XL' is not known; nearest: 'L'; allowed: S, M, L"
same "nothing is written" "" "$(ls | grep part)"

# any number of threads; what a kill left behind
run run family.yaml -o a.h5 -j 1
run run family.yaml -o b.h5 -j 3
run show a.h5 --csv
same "CSV: sizes" "L M M M M M S S S S S" "$(tail -n +2 out | cut -d, -f7 | sort | tr '\n' ' ' | sed 's/ $//')"
mv out a.csv
run show b.h5 --csv
same "CSV for any -j" "$(cat a.csv)" "$(cat out)"
run show a.h5 --json
same "JSON: headforms of the sizes" '"E" "J" "M"' "$(sed -n '/"sizes": \[/,/"assumptions"/p' out | grep -oE '"size": "[EJM]"' | sort -u | cut -d' ' -f2 | sort -u | tr '\n' ' ' | sed 's/ $//')"
says "JSON: size of the worst" out '"worst": {'
run show a.h5 b.h5
says "two families side by side" out "no.  size  site"
says "their rows meet" out "unchanged"

# a change from the result that is replaced
run run family.yaml -o a.h5 -s sizes.L.take_up=comfort
says "changes: size" out "no.  size  site   anvil"
same "changes: of the size that changed alone" L "$(sed -n '/against the result that it replaces/,/^$/p' out | grep -E '^ *[0-9]+ ' | awk '{print $2}' | sort -u)"

# pictures
run plot b.h5 --picture headmap --format text
says "the map shows one size and says which" out "Smallest margin to any limit on size"
run plot b.h5 --picture margins --format text
says "margins: size" out "M: P, flat"

# check
run check family.yaml
exits "check: status" 0
says "check: the shell" out "3 sizes under one shell, its inner face 138.7 mm over a round head"
says "check: a size" out "size L: headform en-960 M, 5.6 kg"
says "check: its stack" out "shell 3.5 mm | eps 50 kg/m3 35.2254 mm | comfort-soft 8 mm | head"
says "check: another" out "shell 3.5 mm | eps 50 kg/m3 40 mm | comfort-soft 12.7746 mm | head"
says "check: all" out "11 impacts in all; about"
run check family.yaml --json
same "check --json: sizes" 3 "$(grep -c '"stacks": \[' out)"
run converge family.yaml -o . -s 'impacts=[{at: crown, anvil: flat, speed: 3 m/s}]' -s 'programme={name: ./house.yaml, sizes: [M]}'
exits "converge: status" 0
says "converge: size" out "no.  size  site"

# faults
sed 's/take_up: inner layer/take_up: comfort/; s/thickness: 8 mm/thickness: 3 mm/' family.yaml >bad.yaml
run run bad.yaml
exits "too large a head: status" 3
says "too large a head: place" err "bad.yaml:14:34: error: size L: the head takes 4.775 mm more of the space"
sed 's/headform.size: M/headform.sise: M/' family.yaml >bad.yaml
run run bad.yaml
says "an unknown path" err "bad.yaml:14:16: error: "
sed '/^headform/d; s/  M: {}/  M: {comfort.gap: 1 mm}/' family.yaml >bad.yaml
run run bad.yaml
exits "a size without a headform: status" 3
says "a size without a headform" err "bad.yaml:12:3: error: size M has no headform"
same "nothing is written" "" "$(ls | grep bad.h5)"
finish
