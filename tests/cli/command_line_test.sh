# The command line: help, version, mistakes, exit statuses, streams.
. "$(dirname "$0")/harness.sh"

run
exits "no arguments: status" 2
silent "no arguments: nothing on stdout" out
says "no arguments: help on stderr" err "usage: foampulse COMMAND"
same "no arguments: no error beside it" 0 "$(grep -c error: "$scratch/err")"

run --help
exits "--help: status" 0
silent "--help: nothing on stderr" err
says "--help: usage" out "usage: foampulse COMMAND"

# every command listed there has a help of its own; no line is wider than a usual window
commands=$(sed -n 's/^  \([a-z][a-z]*\) .*/\1/p' "$scratch/out")
same "--help: commands" "check converge example list measure merge plan plot rank run show sweep tolerance tune" "$(echo "$commands" | sort | tr '\n' ' ' | sed 's/ $//')"
for command in '' $commands; do
    run $command --help
    exits "$command --help: status" 0
    says "$command --help: usage" out "usage: foampulse ${command:-COMMAND} [OPTION...]"
    same "$command --help: widest line at most 110" "" "$(awk 'length > 110' "$scratch/out")"
done

run --version
exits "--version: status" 0
same "--version: text" "foampulse $(sed -n 's/^VERSION := //p' "$source/Makefile")" "$(cat "$scratch/out")"

run --versoin
exits "unknown option: status" 2
silent "unknown option: nothing on stdout" out
same "unknown option: nearest" "foampulse: error: unknown option '--versoin'; did you mean --version?" \
    "$(cat "$scratch/err")"

run --jbs 3 --jsn
says "two mistakes: both told" err "did you mean --jobs?"
says "two mistakes: the second" err "did you mean --json?"
says "two mistakes: their count" err "2 errors"

run -x
exits "unknown letter: status" 2
says "unknown letter: text" err "unknown option '-x'"

run --jobs
exits "missing value: status" 2
says "missing value: text" err "--jobs needs a value: N"

for value in 0 -1 1.5 4x '4 ' +4 99999999999 99999999999999999999; do
    run --jobs="$value"
    exits "--jobs '$value': status" 2
    says "--jobs '$value': text" err "--jobs takes a whole number from 1, not '$value'"
done
run --jobs=
says "--jobs without a value" err "--jobs needs a value: N"

run --factor=1e3
says "--factor takes 1e3" err "usage:"
for value in nan inf 0x10 1_000 1,5 1e999 1e .; do
    run --factor "$value"
    exits "--factor $value: status" 2
    says "--factor $value: text" err "--factor takes a decimal number, not '$value'"
done

run --output a -o b
exits "given twice: status" 2
says "given twice: text" err "--output is given twice"

run --json=1
says "flag with a value" err "--json takes no value"

run --format jpeg
exits "choice: status" 2
says "choice: allowed" err "--format takes png|svg|pdf|gif|text, not 'jpeg'"

run frobnicate
exits "unknown command: status" 2
same "unknown command: text" "foampulse: error: unknown command 'frobnicate'; foampulse --help lists the commands" \
    "$(cat "$scratch/err")"

run -- --version
says "-- ends the options" err "unknown command '--version'"

run --json frobnicate
exits "--json error: status" 2
silent "--json error: nothing on stderr" err
says "--json error: schema" out '"schema": "foampulse/error/1"'
says "--json error: text" out "unknown command 'frobnicate'"

# text from outside: escape, bidi override, C1 control, broken UTF-8 and newline
run "$(printf 'a\033[31mb\342\200\256c\302\233d\377e\nf')"
same "control characters" "foampulse: error: unknown command 'a?[31mb?c?d?e?f'; foampulse --help lists the commands" \
    "$(cat "$scratch/err")"
run --json "$(printf 'a\033\377')"
says "control characters in JSON" out "unknown command 'a??'"
# soft hyphen, Arabic mark, Mongolian separator, zero width space, line separator, override, isolate, byte order mark,
# annotation, tag
run "$(printf '\302\255\330\234\341\240\216\342\200\213\342\200\250\342\200\256\342\201\246\357\273\277\357\277\271\363\240\201\201')"
says "hidden characters" err "unknown command '??????????'"
# cut short, overlong, surrogate, beyond the last code point; a good one of each length stays
run "$(printf '\303(\300\257\355\240\200\364\220\200\200 \303\251\342\202\254\360\235\204\236')"
says "broken UTF-8" err "'?(????????? $(printf '\303\251\342\202\254\360\235\204\236')'"

# streams
"$FOAMPULSE" --help >&- 2>"$scratch/err"
same "closed stdout: status" 4 $?
says "closed stdout: told" err "standard output could not be written"
"$FOAMPULSE" --help >/dev/full 2>"$scratch/err"
same "full disk: status" 4 $?
says "full disk: told" err "standard output could not be written: No space left on device"
{
    { sleep 0.2; "$FOAMPULSE" --help 2>"$scratch/err"; echo $? >"$scratch/status"; } | :
}
same "reader gone: status" 4 "$(cat "$scratch/status")"
silent "reader gone: quiet" err
"$FOAMPULSE" --jbs 2>&-
same "closed stderr: status" 2 $?

# colours: only on a terminal, each stream by itself
if script -qec true /dev/null </dev/null >/dev/null 2>&1; then
    escape=$(printf '\033')
    coloured() { # coloured NAME yes|no COMMAND: runs it with stdout and stderr on a terminal
        if script -qec "$3" /dev/null </dev/null | grep -q "$escape"; then found=yes; else found=no; fi
        same "colour: $1" "$2" "$found"
    }
    coloured "on a terminal" yes "$FOAMPULSE --jbs"
    coloured "--no-color" no "$FOAMPULSE --no-color --jbs"
    coloured "NO_COLOR" no "env NO_COLOR=1 $FOAMPULSE --jbs"
    coloured "NO_COLOR empty" yes "env NO_COLOR= $FOAMPULSE --jbs"
    coloured "TERM=dumb" no "env TERM=dumb $FOAMPULSE --jbs"
    coloured "stderr in a file" no "$FOAMPULSE --jbs 2>/dev/null"
    coloured "stdout in a file, stderr a terminal" yes "$FOAMPULSE --jbs >/dev/null"
else
    echo "# no pseudo-terminal here: colours not checked"
fi
finish
