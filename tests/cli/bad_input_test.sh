# Every kind of bad input, through `run`: told in words, with its status; nothing solved, written or replaced.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

cat >good.yaml <<'END'
headform: {size: J}
shell: {material: abs, thickness: 3.5 mm, inner_radius: 127 mm}
liner: {foam: eps, density: 50 g/l, thickness: 35 mm}
impacts: [{at: P, anvil: flat, speed: 7.5 m/s}]
limits: {peak_g: 275 g, hic: 2400}
END

# refused NAME STATUS TEXT: bad.yaml is refused, in these words.
refused() {
    run run bad.yaml
    exits "$1: status" "$2"
    says "$1: words" err "$3"
    silent "$1: nothing on stdout" out
    if [ -e bad.h5 ]; then not_ok "$1: nothing written" bad.h5; else ok "$1: nothing written"; fi
}

# edited NAME TEXT SCRIPT: good.yaml after this edit by sed is refused as a bad file.
edited() {
    sed "$3" good.yaml >bad.yaml
    refused "$1" 3 "$2"
}

rm -f bad.yaml
refused "missing file" 4 "bad.yaml: error: no such file"
mkdir bad.yaml
refused "folder" 4 "bad.yaml: error: this is a folder"
rmdir bad.yaml
: >bad.yaml
refused "empty file" 3 "nothing is written here"
printf '\177ELF\000\001\002\000\000' >bad.yaml
refused "binary junk" 3 "not a text file"
printf 'title: "\377"\n' >bad.yaml
refused "bad UTF-8" 3 "bad.yaml:1:9: error: byte 0xFF is not UTF-8"
edited "two documents" "a second document starts here" '2i ---'
edited "repeated key" "headform stands twice, in line 1 and in line 2" '1p'
edited "unknown key" "nearest: 'thickness'" 's/thickness: 3.5/thicknes: 3.5/'
edited "wrong unit" "kg is a mass; a length is wanted" 's/35 mm/35 kg/'
edited "bare number" "35 has no unit" 's/35 mm/35/'
edited "decimal comma" "write 45.5 kg/m3" 's,50 g/l,45\,5 kg/m3,'
edited "no space after a colon" "write size: J" 's/.*headform.*/headform:\n  size:J/'
edited "tab" "a tab cannot stand here" 's/.*headform.*/headform:\n\tsize: J/'
edited "NaN" "not a finite number" 's/7.5 m/nan m/'
edited "inf" "not a finite number" 's/7.5 m/inf m/'
edited "overflow" "too large" 's/7.5 m/1e999 m/'
edited "negative thickness" "must be above 0" 's/35 mm/-35 mm/'
edited "zero density" "must be above 0" 's/50 g/0 g/'
edited "density outside the range" "outside the range of eps, 15 to 120 kg/m3" 's/50 g/500 g/'
edited "cell as thick as a layer" "bad.yaml:6:16: error: a cell of 35 mm takes the whole of layer 1 of 'liner', and a layer \
takes two at least: allowed here: less than 35 mm" '$a solver: {cell: 35 mm}'
edited "stack too thick" "more than the space" 's/35 mm/45 mm/'
edited "hidden region" "region 'inner' is hidden" \
    's/.*liner.*/liner: {foam: eps, regions: [{name: crown, centre: [90 deg, 0 deg], half_angle: 40 deg, layers: \&/
     s/&/[{density: 50 g\/l, thickness: 35 mm}]}, {name: inner, centre: [90 deg, 0 deg], half_angle: 20 deg, layers: &/
     s/&/[{density: 50 g\/l, thickness: 35 mm}]}, {name: rest, layers: [{density: 50 g\/l, thickness: 35 mm}]}]}/'
# a cell that just cuts the layer, and a layer that the default cell does not cut
run check good.yaml -s solver.cell="34.9 mm"
exits "a cell that cuts a layer in two: status" 0
run check good.yaml -s liner.thickness="1.5 mm"
exits "a layer thinner than the default cell: status" 0
# a mesh that the memory of the process does not hold, and one that it holds; the sanitizers map more than any limit, and
# OpenBLAS with threads would ask for 128 MB at its start, for ever, and the process would not end
case $FOAMPULSE in
*/asan/*) ;;
*)
    cp good.yaml bad.yaml
    printf 'solver: {rings: 1024, cell: 0.1 mm}\n' >>bad.yaml
    (ulimit -v 150000 && exec "$FOAMPULSE" check bad.yaml >out 2>err)
    status=$?
    exits "more cells than memory: status" 3
    says "more cells than memory: cells and bytes" err "bad.yaml:6:29: error: this mesh may have 358400 cells, which take \
183500800 bytes, and this process may take "
    says "more cells than memory: what to do" err " more: take larger cells or fewer rings"
    (ulimit -v 150000 && exec "$FOAMPULSE" check good.yaml >out 2>err)
    same "as many cells as memory holds: status" 0 $?
    ;;
esac
# helmet REGIONS LAYERS: a helmet of caps about the crown, each with as many layers; every item on a line of its own
helmet() {
    echo 'headform: {size: J}'
    echo 'solver: {rings: 8, duration: 1 ms}'
    echo 'impacts: [{at: P, speed: 7.5 m/s}]'
    echo 'liner:'
    echo '  regions:'
    for i in $(seq "$1"); do
        echo "    - name: r$i"
        [ "$i" = "$1" ] || echo "      centre: [90 deg, 0 deg]"
        [ "$i" = "$1" ] || echo "      half_angle: $((2 * i)) deg"
        echo '      layers:'
        for k in $(seq "$2"); do echo "        - {density: $((20 + k)) kg/m3, thickness: 2.5 mm}"; done
    done
}
helmet 24 16 >most.yaml
run run most.yaml --all
exits "24 regions of 16 layers: status" 0
says "24 regions of 16 layers: solved" out "no limit"
rm most.h5
helmet 25 1 >bad.yaml
refused "25 regions" 3 "bad.yaml:$(grep -n 'name: r25' bad.yaml | cut -d: -f1):7: error: \`regions\` takes 1 to 24 items; got 25"
helmet 2 17 >bad.yaml
refused "17 layers" 3 "bad.yaml:$(grep -n 'density: 37' bad.yaml | head -n 1 | cut -d: -f1):11: error: \`layers\` takes 1 to 16 items; got 17"
edited "unknown foam" "nearest: 'eps'" 's/foam: eps/foam: esp/'
edited "anchor" "anchors (&) are not read" 's/headform: /headform: \&a /'
edited "alias" "aliases (*) are not read" 's/headform: .*/headform: *a/'
edited "cycle of includes" "the files include each other" '1i include: bad.yaml'
head -c 10000000 /dev/zero | tr '\0' '[' >bad.yaml
refused "10 MB of nested lists" 3 "larger than 1 MiB"
head -c 1000000 /dev/zero | tr '\0' '[' >bad.yaml
refused "1 MB of nested lists" 3 "more than 32 levels"

# a good case beside a bad one is not solved either
run run good.yaml bad.yaml
exits "good beside bad: status" 3
if [ -e good.h5 ]; then not_ok "good beside bad: nothing written" good.h5; else ok "good beside bad: nothing written"; fi

# where the result goes
echo "a letter" >good.h5
run run good.yaml
exits "foreign file: status" 4
says "foreign file: words" err "is no result of"
same "foreign file: as it was" "a letter" "$(cat good.h5)"
rm good.h5
run run good.yaml -o nowhere/
exits "no such folder: status" 4
run run good.yaml -o /dev/full
exits "a device: status" 4
finish
