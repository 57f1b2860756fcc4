# What `plot` says and leaves when the picture cannot be drawn: the right status, one message, the earlier picture.
. "$(dirname "$0")/harness.sh"
mkdir "$scratch/work" "$scratch/bin" "$scratch/none" && cd "$scratch/work" || exit 1
path=$PATH

cat >a.yaml <<'END'
pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm}]}
striker: {mass: 5 kg}
impacts: [{speed: 3 m/s}]
END
listed() {
    ls | tr '\n' ' ' | sed 's/ $//'
}
run run a.yaml -q
run plot a.h5 --picture pulse
exits "a picture: status" 0
says "a picture: told" err "wrote a.pulse.png"
same "a picture: alone" "a.h5 a.pulse.png a.yaml" "$(listed)"
cp a.pulse.png "$scratch/earlier.png"

# fake SCRIPT: this in the place of gnuplot.
fake() {
    printf '#!/bin/sh\n%s\n' "$1" >"$scratch/bin/gnuplot"
    chmod +x "$scratch/bin/gnuplot"
    search=$scratch/bin:$path
}

# refused NAME WORDS: the picture is not made, neither to a file nor to the terminal.
refused() {
    for format in png text; do
        PATH=$search "$FOAMPULSE" plot a.h5 --picture pulse --format $format >"$scratch/out" 2>"$scratch/err" </dev/null
        status=$?
        exits "$1, $format: status" 4
        silent "$1, $format: nothing on stdout" out
        says "$1, $format: words" err "$2"
        same "$1, $format: one message" 1 "$(grep -c . "$scratch/err")"
    done
    same "$1: the earlier picture" "$(cksum <"$scratch/earlier.png")" "$(cksum <a.pulse.png)"
    same "$1: nothing besides" "a.h5 a.pulse.png a.yaml" "$(listed)"
}
search=$scratch/none
refused "gnuplot is missing" "drawn by gnuplot, which is not in PATH (Debian: gnuplot-nox)"
fake 'exit 0'
refused "gnuplot does nothing" "gnuplot delivered no complete picture"
fake 'echo "no such terminal" >&2; exit 1'
refused "gnuplot gives up" "gnuplot gave up: no such terminal"
fake 'head -c 100 /dev/zero; kill -KILL $$'
refused "gnuplot dies" "gnuplot was ended by signal 9"

# one of several pictures fails: what was made before it stays
fake 'case $(cat) in *crush*) exit 1 ;; *) printf "IEND\256B\140\202" ;; esac'
PATH=$search "$FOAMPULSE" plot a.h5 --picture pulse,crush >"$scratch/out" 2>"$scratch/err"
same "one of two pictures: status" 4 $?
same "one of two pictures: the other" "a.h5 a.pulse.png a.yaml" "$(listed)"
says "one of two pictures: told which" err "a.crush.png: error: crush: gnuplot gave up"
rm -f a.*.png

# told to end while gnuplot hangs
fake 'exec sleep 30'
for signal in TERM:143 INT:130; do
    # a shell lets what it starts in the background ignore SIGINT; the program catches it all the same
    PATH=$search "$FOAMPULSE" plot a.h5 --picture pulse >"$scratch/out" 2>"$scratch/err" &
    sleep 1
    start=$(date +%s)
    kill -${signal%:*} $!
    wait $!
    same "SIG${signal%:*} while gnuplot hangs: status" "${signal#*:}" $?
    if [ $(($(date +%s) - start)) -lt 20 ]; then ok "SIG${signal%:*}: at once"; else not_ok "SIG${signal%:*}: at once" "waited"; fi
    same "SIG${signal%:*}: nothing left" "a.h5 a.yaml" "$(listed)"
done

# killed while gnuplot draws: the earlier picture stands, and the next one takes its place; what is left has a name of
# its own, which says what it is, and is in nobody's way
run plot a.h5 --picture pulse
echo earlier >a.pulse.png
PATH=$search "$FOAMPULSE" plot a.h5 --picture pulse >"$scratch/out" 2>"$scratch/err" &
sleep 1
kill -KILL $!
wait $! 2>/dev/null
same "SIGKILL while gnuplot hangs: status" 137 $?
same "SIGKILL: the earlier picture" earlier "$(cat a.pulse.png)"
left=$(ls | grep -v '^a\.pulse\.png\.[0-9]*\.0\.tmp$' | tr '\n' ' ')
same "SIGKILL: nothing but a temporary file besides" "a.h5 a.pulse.png a.yaml " "$left"
run plot a.h5 --picture pulse
exits "after SIGKILL: the next picture" 0
same "after SIGKILL: it is the whole one" "$(cksum <"$scratch/earlier.png")" "$(cksum <a.pulse.png)"
rm -f a.pulse.*

# what stands in the way
mkdir a.pulse.png
run plot a.h5 --picture pulse
exits "a folder in the way: status" 4
says "a folder in the way: told" err "a.pulse.png: error: pulse: is a folder or device and is not replaced"
rmdir a.pulse.png
run plot a.h5 --picture pulse -o /nowhere
exits "a folder that is not there: status" 4
run plot a.h5 --picture pulse -o /proc
exits "a folder that cannot be written: status" 4
same "a folder that cannot be written: one message" 1 "$(grep -c . "$scratch/err")"
run plot a.h5 --picture puls
exits "a picture that is not there: status" 2
says "a picture that is not there: the nearest" err "did you mean 'pulse'"
run plot a.yaml
exits "a case in the place of a result: status" 3
"$FOAMPULSE" plot a.h5 --picture pulse --format text >/dev/full 2>"$scratch/err"
same "text to a full disk: status" 4 $?
says "text to a full disk: told" err "standard output could not be written: No space left on device"
run plot a.h5 --picture pulse --format text
exits "text: status" 0
same "text: the mark behind it is not shown" 0 "$(grep -c 'end of picture' "$scratch/out")"

# pictures of a sweep
rm -rf a.*.png
cat >s.yaml <<'END'
title: "Pad"
pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm}]}
striker: {mass: 5 kg}
impacts: [{speed: 3 m/s}, {speed: 4 m/s}]
limits: {peak_g: 150 g, hic: 800}
sweep: {vary: {pad.layers.1.density: {from: 40 g/l, to: 60 g/l, step: 10 g/l}, pad.layers.1.thickness: [20 mm, 30 mm]}}
END
run sweep s.yaml -q
exits "a sweep to draw: status" 0
run plot s.sweep.h5
exits "of a sweep: status" 0
same "of a sweep: which" "wrote s.sweep.curves.png wrote s.sweep.map.png" "$(tr '\n' ' ' <"$scratch/err" | sed 's/ $//')"
same "of a sweep: alone" "a.h5 a.yaml s.sweep.curves.png s.sweep.h5 s.sweep.map.png s.yaml" "$(listed)"
rm -f s.*.png
run plot s.sweep.h5 --picture pulse
exits "of a run, from a sweep: status" 2
says "of a run, from a sweep: told" err "s.sweep.h5: error: is a result of sweep, which has no picture 'pulse'; it has curves, map, front"
run plot a.h5 --picture map
exits "of a sweep, from a run: status" 2
says "of a sweep, from a run: told" err "a.h5: error: is a result of run, which has no picture 'map'; it has pulse, headmap,"
run plot a.h5 s.sweep.h5
exits "a run and a sweep: status" 2
says "a run and a sweep: told" err "results of run and of sweeps are not drawn in one command"
run plot s.sweep.h5 --picture mapp
exits "an unknown picture of a sweep: status" 2
says "an unknown picture of a sweep: the nearest" err "did you mean 'map'"
run plot s.sweep.h5 --picture front
exits "a front without masses: status" 3
says "a front without masses: told" err "front: no computed layout has a helmet mass"
run plot s.sweep.h5 --factors "pad 1 densiti"
exits "a factor that is not there: status" 2
says "a factor that is not there: the nearest" err "did you mean 'pad 1 density'? varied are pad 1 density, pad 1 thickness"
run plot s.sweep.h5 --factors "pad 1 density,pad.layers.1.density"
exits "a factor twice: status" 2
says "a factor twice: told" err "--factors names 'pad.layers.1.density' twice"
run plot a.h5 --factors "pad 1 density"
exits "factors of a run: status" 2
run plot s.sweep.h5 --at peak
exits "a time of a sweep: status" 2
same "nothing drawn" "a.h5 a.yaml s.sweep.h5 s.yaml" "$(listed)"
run plot s.sweep.h5 --factors pad.layers.1.thickness,pad.layers.1.density --picture map --format text
exits "factors: status" 0
says "factors: the first across" out "pad 1 thickness (mm)"
head -c 700 s.sweep.h5 >cut.h5
run plot cut.h5
exits "a sweep cut off: status" 3
same "a sweep cut off: one message" 1 "$(grep -c . "$scratch/err")"

# a file whose name is the program's, beside the results
touch foampulse
run plot s.sweep.h5 --picture map
exits "a file called foampulse: status" 0
finish
