# Anvils: what is told of them, what is refused and where, the same bits with any threads and instruction set.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

# helmet ANVIL...: a case with one impact on each
helmet() {
    echo "headform: {size: J}"
    echo "shell: {material: abs, thickness: 3.5 mm}"
    echo "liner: {foam: eps, density: 45 g/l, thickness: 40 mm}"
    echo "solver: {rings: 16, duration: 3 ms}"
    echo "impacts:"
    for anvil in "$@"; do
        echo "  - {at: P, anvil: $anvil, speed: 5 m/s}"
    done
}

helmet flat kerbstone "{shape: kerbstone, radius: 20 mm, length: 100 mm}" edge bar >all.yaml
run run all.yaml -v
says "a row of a named anvil" out "P     kerbstone*      5.00"
says "a row of an own anvil" out "P     own kerbstone*  5.00"
says "a flat is what it is" out "P     flat            5.00"
says "what the star means" out "* equal-overlap anvil: "
says "assumed" out "assumed: kerbstone: equal-overlap anvil"
says "assumed: length" out "assumed: a kerbstone without \`length\` is longer than the contact"
run show all.h5
says "shown from the file" out "P     edge*           5.00"
run show all.h5 --csv
says "CSV" out ",own kerbstone,equal overlap,"
run run all.yaml --json
same "JSON: bodies of equal overlap" 4 "$(grep -c '"anvil_form": "equal overlap"' out)"
same "JSON: true anvils" 1 "$(grep -c '"anvil_form": "true"' out)"
helmet flat hemisphere >true.yaml
run run true.yaml -v
same "nothing of equal overlap without it" 0 "$(grep -c 'equal' out)"
run list anvils
same "list: those of equal overlap" 4 "$(grep -c '  equal overlap  ' out)"
says "list: sizes" out "radius 1 mm, width 25 mm, height 6 mm"

# refused NAME ANVIL TEXT: the message of line 6, with its column
refused() {
    helmet "$2" >bad.yaml
    run check bad.yaml
    exits "$1: status" 3
    says "$1: message" err "bad.yaml:6:$3"
}
refused "too thin" "{shape: edge, width: 1 mm}" "41: error: \`width\` of the shape edge must be from 3 mm to 200 mm; got 1 mm"
refused "too large" "{shape: hemisphere, radius: 2 mm}" "48: error: \`radius\` of the shape hemisphere must be from 5 mm to 10000 mm; got 2 mm"
refused "a size that a shape has not" "{shape: flat, radius: 20 mm}" \
    "42: error: \`radius\` means nothing for the shape flat, which takes \`diameter\`"
refused "a rounding that does not fit" "{shape: edge, radius: 4 mm}" "42: error: the rounding of the edge, 4 mm, does not fit its section: 3.15 mm is the most"
refused "the usual rounding does not fit" "{shape: bar, height: 1 mm, radius: 1.5 mm}" "55: error: the rounding of the bar, 1.5 mm, does not fit its section: 1 mm is the most"
refused "far out" "{shape: bar, height: 20 m}" "41: error: \`height\` must be above 0, and 10000 mm at most"
refused "no such size" "{shape: bar, heigth: 5 mm}" "33: error: "
says "no such size: the nearest" err "height"
silent "nothing on standard output" out

hash() {
    h5dump -a content_hash "$1" | sed -n 's/.*: "\(.*\)".*/\1/p'
}
for model in columns axisymmetric; do
    FOAMPULSE_ISA=base "$FOAMPULSE" run all.yaml -j1 --model "$model" -o base.h5 -f >out 2>err
    for isa in v3 v4; do
        rm -f other.h5
        FOAMPULSE_ISA=$isa "$FOAMPULSE" run all.yaml -j2 --model "$model" -o other.h5 -v >out 2>err
        if grep -q "instruction set $isa," out; then
            same "$model: content hash, base on one thread, $isa on two" "$(hash base.h5)" "$(hash other.h5)"
        else
            echo "figure: $model: FOAMPULSE_ISA=$isa is not on this machine and is not compared"
        fi
    done
done
finish
