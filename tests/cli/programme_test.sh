# A case with test programmes: what run prints, writes, and reads again.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1
cat >house.yaml <<'END'
title: house
headforms: {sizes: [J]}
sites: [P]
conditions: {ambient: 23 degC}
tests:
  - {name: soft, anvils: [flat], speed: 4 m/s, limits: {peak_g: 500 g}, provenance: our own}
  - {name: look, anvils: [flat], speed: 3 m/s, limits: none}
END
cat >case.yaml <<'END'
headform: {size: J}
shell: {material: abs, thickness: 3.5 mm}
liner: {density: 50 g/l, thickness: 40 mm}
model: columns
solver: {rings: 8, cell: 6 mm}
programme: ./house.yaml
END
run run case.yaml
exits "a house programme: status" 0
says "header" out "programme ./house.yaml; headform en-960 J"
says "verdict" out "case.yaml: within"
says "where its limit is from" out "limits of ./house.yaml our own: peak g 500 g"
says "a test without a limit" out "limits of ./house.yaml none on purpose: no limit"
run run case.yaml --gate -f
exits "a test without a limit: gate" 7
sed -i '/limits: none/d' house.yaml
echo 'outside: [retention]' >>house.yaml
run run case.yaml --gate -f
exits "nothing exceeds and nothing is left out: gate" 0
says "what the model does not touch" out "not covered: ./house.yaml: outside of the model: retention"
echo '  - {name: look, anvils: [flat], speed: 3 m/s, limits: none}' >tail
sed -i '/^outside/d' house.yaml
cat tail >>house.yaml
run run case.yaml -f
run show case.h5
same "show: both hits" 2 "$(grep -c 'P  *flat' out)"
says "show: provenance" out "limits of ./house.yaml our own: peak g 500 g"
says "show: programme" out "programme ./house.yaml; headform"
run run case.yaml --json -f
same "json: tests" '"look/flat" "soft/flat"' "$(grep -A1 '"tests"' out | grep -o '"[a-z]*/flat"' | sort | tr '\n' ' ' | sed 's/ $//')"
says "json: a limit that is none" out '"limit": null'
run run case.yaml -f -s 'programme=[./house.yaml, {name: un-r22.05, temperatures: [cold]}]'
says "two programmes" out "programme ./house.yaml, un-r22.05; headform"
says "what is not covered" out "not covered: un-r22.05: oblique on bars"
run run case.yaml -f --gate -s 'programme=[./house.yaml, {name: un-r22.05, temperatures: [cold]}]'
exits "not covered: gate" 7
run plot case.h5 --picture margins --format text
says "margins" out "P, flat, 7.5 m/s, -20"
run run case.yaml -f -s programme=un-r22.6
exits "an unknown programme: status" 2
says "an unknown programme" err "programme 'un-r22.6' is not known; nearest: 'un-r22.06'"
run check case.yaml -s 'programme=[./house.yaml, cpsc-1203]'
says "check: what is not covered" out "cpsc-1203: strikes headforms en-960-5kg A, E, J, M, O; here it is en-960 J"
run check case.yaml --json -s 'programme=[./house.yaml, cpsc-1203]'
says "check --json: what is not covered" out '"not_covered": ['
mkdir sub
sed 's/programme: .*/programme: ..\/house.yaml/' case.yaml >sub/case.yaml
run check sub/case.yaml
exits "a programme outside: status" 3
says "a programme outside" err "is outside the folder of the case"
finish
