#!/bin/sh
# What `make demo` runs, from the top of the tree: a pad on the bench, three invented helmets side by side, with
# pictures, and a design from a first layout to one that bears production. Every command is echoed, so that it can be typed again. Results, tables and pictures go to
# .build/demo/.
set -eu
out=.build/demo
PATH=$PWD/.build/release:$PATH
export PATH
mkdir -p "$out"

# step TITLE TABLE COMMAND...: echoes and runs the command; what it prints is kept in $out/TABLE as well, if one is named.
# Then its remarks wait until the table is out: two writers at once would mix their lines.
step() {
    printf '\n# %s\n' "$1"
    table=$2
    shift 2
    printf '$ %s\n' "$*"
    if [ -z "$table" ]; then
        "$@"
        return
    fi
    rm -f "$out/failed"
    { "$@" 2>"$out/remarks" || echo $? >"$out/failed"; } | tee "$out/$table"
    cat "$out/remarks" >&2
    rm "$out/remarks"
    if [ -e "$out/failed" ]; then exit "$(cat "$out/failed")"; fi
}

printf '$ %s\n' 'PATH=$PWD/.build/release:$PATH'
step "A pad of foam under a falling striker, as on the bench." bench-pad.txt \
    foampulse run cases/bench-pad.yaml -o $out/
step "Three helmets that differ in their foam alone; the first is the baseline." family.txt \
    foampulse run cases/demo/single.yaml cases/demo/crown.yaml cases/demo/brow.yaml -o $out/
step "Their pictures: pulses, the head from above with the margin at each site, force against crush." "" \
    foampulse plot $out/single.h5 $out/crown.h5 $out/brow.h5 -o $out/
step "The two-density layout cut through at its largest crush, coloured by strain." "" \
    foampulse plot $out/crown.h5 --picture section -o $out/
step "The pulses once more, without leaving the terminal." "" \
    foampulse plot $out/single.h5 $out/crown.h5 $out/brow.h5 --picture pulse --format text

# The design's files lie together: what tune writes names the programme beside it.
here=$(dirname "$0")
cp "$here/design.yaml" "$here/house.yaml" "$out/"
step "From a layout to a design: crown and brow by density, under a programme of one's own (a minute)." sweep.txt \
    foampulse sweep $out/design.yaml
step "Which density keeps every impact within its limits." "" \
    foampulse plot $out/design.sweep.h5
step "Which density matters, for which impact." rank.txt \
    foampulse rank $out/design.sweep.h5
step "The best layout, looked for with fewer runs (half a minute)." tune.txt \
    foampulse tune $out/design.yaml
step "What the scatter of production makes of it (a minute)." tolerance.txt \
    foampulse tolerance $out/design.tuned.yaml

printf '\nWritten to %s/:\n' "$out"
ls "$out"
cat <<'END'

What to try next, from this folder and with that PATH:
  foampulse check cases/demo/crown.yaml                                  what the program understood
  foampulse run cases/demo/crown.yaml -s liner.crown.layers.2.density="25 g/l" -o .build/demo/softer.h5
  foampulse run cases/demo/crown.yaml -s programme=en-1078 -o .build/demo/en-1078.h5
                                                                         the impacts and limits of a standard
  foampulse list foams                                                   what the foams are, and from where
  foampulse example > mine.yaml                                          a commented case to start from
END
