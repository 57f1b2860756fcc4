# The bar of progress: drawn on a terminal, right in what it says, gone at the end; nowhere else.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

{
    printf 'pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\nstriker: {mass: 5 kg}\n'
    printf 'solver: {cell: 0.4 mm}\nimpacts:\n'
    awk 'BEGIN { for (i = 1; i <= 60; i++) printf "  - {speed: %.2f m/s}\n", 2 + i / 60 }'
} >many.yaml

# on_terminal ARGUMENT...: runs the program on a terminal of its own; what that saw goes to `seen`, a line for each time
# that the line was begun anew.
on_terminal() {
    rm -f many.h5
    script -qec "'$FOAMPULSE' run many.yaml -j 1 $*" /dev/null </dev/null >raw
    status=$?
    tr -d '\n' <raw | tr '\r' '\n' | sed 's/^.\[K//' >seen
}
bars='^\[#*\.*\] [0-9]* of 60 impacts'

on_terminal --no-color
exits "on a terminal: status" 0
same "on a terminal: first how many" 1 "$(grep -c '^60 impacts$' seen)"
if [ "$(grep -c "$bars, [0-9.e+]*/s, [0-9]* s left" seen)" -ge 1 ]; then ok "bars"; else not_ok "bars" "none in: $(cat seen)"; fi
same "bars are as long as what is done" "" "$(sed -n "/$bars/p" seen | awk '{
    full = gsub("#", "", $1); open = gsub("[.]", "", $1)
    if (full != int(30 * $2 / 60) || full + open != 30) print $0, full, open
}')"
same "bars only grow" "$(sed -n "s/^\[[#.]*\] \([0-9]*\) of 60 .*/\1/p" seen)" \
    "$(sed -n "s/^\[[#.]*\] \([0-9]*\) of 60 .*/\1/p" seen | sort -n)"
same "the last bar is wiped out: a line more is begun than drawn" "$(grep -ao "$(printf '\r\033')\[K" raw | wc -l)" "$(($(grep -c "$bars" seen) + 2))"

on_terminal -q
exits "quiet on a terminal: status" 0
same "quiet on a terminal: no line is begun anew" 0 "$(grep -c "$(printf '\033')\[K" raw)"
rm -f many.h5
run run many.yaml -j 1
exits "to files: status" 0
same "to files: no line is begun anew" 0 "$(cat out err | grep -c "$(printf '\033')\[K")"
finish
