# The README shows what the program prints. Every block that starts with `$ ` is typed line by line in a folder that
# holds cases/ as the source tree does; standard output, then standard error. A line `...` stands for any lines.
#
# Once. What matters here is the text; the commands run under the sanitizers in scripts of their own.
. "$(dirname "$0")/harness.sh"

ln -s "$source/cases" "$scratch/cases"
mkdir "$scratch/bin"
ln -s "$FOAMPULSE" "$scratch/bin/foampulse"
PATH=$scratch/bin:$PATH

# one file NUMBER.command, and NUMBER.shown, for each command
awk -v folder="$scratch" '
    /^```/ { inside = !inside; first = inside; shown = 0; next }
    inside && first { first = 0; shown = substr($0, 1, 2) == "$ " }
    !inside || !shown { next }
    substr($0, 1, 2) == "$ " {
        at = folder "/" sprintf("%02d", ++count)
        print substr($0, 3) >(at ".command")
        printf "" >(at ".shown")
        next
    }
    { print >(at ".shown") }' "$source/README.md"

# matches SHOWN PRINTED: says the first line that is shown and not printed, or printed and not shown.
matches() {
    awk '
        { sub(/[ \t]+$/, "") }
        FNR == NR { shown[++last] = $0; next }
        { printed[++lines] = $0 }
        END {
            at = 1
            for (i = 1; i <= last; i++) {
                if (shown[i] == "...") { skip = 1; continue }
                while (skip && at <= lines && printed[at] != shown[i]) at++
                if (at > lines || printed[at] != shown[i]) { print "not printed: " shown[i]; exit }
                at++
                skip = 0
            }
            if (!skip && at <= lines) print "not shown: " printed[at]
        }' "$1" "$2"
}

for command in "$scratch"/*.command; do
    (cd "$scratch" && sh "$command" >printed 2>errors </dev/null)
    same "status of: $(cat "$command")" 0 $?
    cat "$scratch/errors" >>"$scratch/printed"
    same "output of: $(cat "$command")" "" "$(matches "${command%.command}.shown" "$scratch/printed")"
done

# pictures and files that it points to are there
for link in $(grep -o '](\([a-zA-Z/_.-]*\))' "$source/README.md" | tr -d ']()'); do
    if [ -e "$source/$link" ]; then ok "link $link"; else not_ok "link $link" "no such file"; fi
done
finish
