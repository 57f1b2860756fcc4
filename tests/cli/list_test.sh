# list and example: every topic has rows, names that cases use are there, examples are whole cases.
. "$(dirname "$0")/harness.sh"

# topic NAME TEXT: a topic is printed, with this text in it, and as JSON with the same.
topic() {
    run list "$1"
    exits "list $1: status" 0
    silent "list $1: nothing on stderr" err
    says "list $1: content" out "$2"
    run list "$1" --json
    exits "list $1 --json: status" 0
    says "list $1 --json: schema" out '"schema": "foampulse/list/1"'
    says "list $1 --json: content" out "$2"
}

topic foams eps
topic shells glass-epoxy
topic comfort comfort-soft
topic headforms en-960
topic sites X-right
topic anvils hemisphere
topic metrics above_150g
topic units kg/m3
topic programmes "UN Regulation 22, series 06"

run list foam
exits "unknown topic: status" 2
says "unknown topic: nearest" err "there is no topic 'foam'; nearest: 'foams'"
run list
exits "no topic: status" 2
run list foams --set a=b
exits "an option that means nothing: status" 2

for name in smallest pad touring; do
    run example "$name"
    exits "example $name: status" 0
    case $name in
    pad) file=bench-pad ;;
    *) file=$name ;;
    esac
    same "example $name: the file itself" "$(cat "$source/cases/$file.yaml")" "$(cat "$scratch/out")"
done
run example
same "example: the smallest" "$(cat "$source/cases/smallest.yaml")" "$(cat "$scratch/out")"
run example toruing
exits "unknown example: status" 2
says "unknown example: nearest" err "nearest: 'touring'"

# a range is one of the value beside it; that of a power law's factor stands with the law
run list foams --json
awk -F'"' '
    BEGIN { unit["kPa"] = 1; unit["MPa"] = 1000; unit["GPa"] = 1e6; unit["kg/m3"] = 1; unit[""] = 1 }
    $2 == "property" { name = $4 }
    $2 == "value" { split($4, value, " ") }
    $2 == "range" && $4 != "" {
        split($4, range, " ")
        now = value[1] * unit[value[2]]
        if (now < range[1] * unit[range[4]] || now > range[3] * unit[range[4]]) print name, $4
        count++
    }
    END { print (count > 8 ? "checked" : "too few") }' "$scratch/out" >"$scratch/outside"
same "list foams: every value lies in its range" checked "$(cat "$scratch/outside")"
says "list foams: a power law with the ranges of its numbers" out \
    '"power law in density": "0.84 kPa (rho/(kg/m3))^1.60, factor 0.70 to 1.00 kPa, exponent 1.3 to 1.75"'
says "list foams: a share of the solid" out '"power law in density": "0.694 solid_modulus (rho/solid_density)^1.54"'

run list shells
says "stiff laminates in GPa" out "23 GPa"
same "no powers of ten in a modulus" 0 "$(grep -c 'e+0' "$scratch/out")"
finish
