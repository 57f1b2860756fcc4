# Titles and file names that shells, gnuplot and terminals would act on stay text, from `run` to the pictures.
. "$(dirname "$0")/harness.sh"
mkdir "$scratch/work" && cd "$scratch/work" || exit 1

name='a'\''b"$(touch x1)`touch x2`;touch x3'
cat >"$name.yaml" <<'END'
title: "x'; system \"touch x4\"; `touch x5` {/Symbol a} @b ^2 _c $(touch x6) \" | \\ % %s %d"
pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm}]}
striker: {mass: 5 kg}
impacts: [{speed: 3 m/s}]
limits: {peak_g: 10 g}
END
run run "$name.yaml"
exits "run: status" 0
says "run: the title as it is" out "x'; system \"touch x4\"; \`touch x5\` {/Symbol a} @b ^2 _c \$(touch x6) \" | \\ % %s %d"

# the commands that are suggested, given to a shell, name this file and nothing else
grep '^next: foampulse plot' "$scratch/err" | sed 's/^next: foampulse plot/printf %s/' >"$scratch/next"
same "run: the next command is quoted" "$name.h5" "$(sh "$scratch/next")"
for format in png svg pdf text; do
    run plot "$name.h5" --picture pulse,crush --format "$format"
    exits "plot as $format: status" 0
done
run show "$name.h5"
exits "show: status" 0
run show "$name.h5" --csv
exits "show as CSV: status" 0
same "nothing was run" 0 "$(find . -name 'x[0-9]' | wc -l)"

# what a terminal would act on is not read at all, or shown as a mark
sed 's/^title.*/title: "a\\e[31mb"/' "$name.yaml" >escape.yaml
run run escape.yaml
exits "escape in a title: status" 3
says "escape in a title: words" err "control character U+001B"
escape=$(printf 'e\033[2J.yaml')
cp "$name.yaml" "$escape"
run run "$escape" -o ../e.h5
exits "escape in a name: status" 0
same "escape in a name: none comes out" 0 "$(cat "$scratch/out" "$scratch/err" | grep -c "$(printf '\033')")"
finish
