# How mistakes in a file and on the command line of a command are told.
. "$(dirname "$0")/harness.sh"
cd "$scratch" || exit 1

cat >bad.yaml <<'END'
headform: {size: J}
shell: {material: abs, thicknes: 3.5 mm}
liner: {foam: eps, density: 50 g/l, thickness: 35 mm}
impacts: [{at: P, anvil: flat, speed: 7.5 m/s}]
END
run check bad.yaml
exits "a mistake: status" 3
silent "a mistake: nothing on stdout" out
says "a mistake: place and text" err "bad.yaml:2:24: error: "
same "a mistake: line and caret" "  shell: {material: abs, thicknes: 3.5 mm}
                         ^" "$(sed -n 2,3p err)"
same "a mistake: no count of one" 3 "$(wc -l <err)"

run check --json bad.yaml
exits "a mistake in JSON: status" 3
silent "a mistake in JSON: nothing on stderr" err
says "a mistake in JSON: line" out '"line": 2'
says "a mistake in JSON: column" out '"column": 24'
says "a mistake in JSON: file" out '"file": "bad.yaml"'

# a setting makes the mappings it needs; what their keys may be, the whole file says
sed 's/thicknes:/thickness:/' bad.yaml >good.yaml
run check good.yaml --set impacts.1.friction.head=0.3
exits "a setting in a mapping that is not there: status" 0
same "a setting in a mapping that is not there: taken" 0 "$(grep -c 'friction of the liner on the head' out)"
run check good.yaml --set impacts.1.fricton.head=0.3
exits "a slip in such a mapping: status" 2
says "a slip in such a mapping: place, nearest" err "--set:1:11: error: "
says "a slip in such a mapping: nearest" err "'friction'"

# columns count characters: three of two to four bytes stand before the mistake
printf 'headform: {set: "\303\251\342\202\254\360\235\204\236", siz: J}\n' >wide.yaml
sed -n '2,$p' bad.yaml >>wide.yaml
run check wide.yaml
says "characters, not bytes" err "wide.yaml:1:24: error: "
same "characters, not bytes: caret under the key" "$(printf '%25s^' '')" "$(grep -m 1 -A 2 'wide.yaml:1:24:' err | sed -n 3p)"

# ten messages, then the count
{
    echo 'headform: {size: J}'
    for i in 1 2 3 4 5 6 7 8 9 10 11 12 13; do echo "unknown$i: 1"; done
} >many.yaml
run check many.yaml
same "many mistakes: ten are shown" 10 "$(grep -c 'error:' err)"
case $(tail -n 1 err) in
*" errors; the first 10 are shown") ok "many mistakes: the count" ;;
*) not_ok "many mistakes: the count" "$(tail -n 1 err)" ;;
esac

# a name from outside is text
name=$(printf 'a\033[2Jb\342\200\256.yaml')
run check "$name"
exits "name with an escape: status" 4
says "name with an escape: shown" err "a?[2Jb?.yaml"
same "name with an escape: none comes out" 0 "$(grep -c "$(printf '\033')" err)"
cp bad.yaml "$name"
run check "$name"
says "file with such a name" err "a?[2Jb?.yaml:2:24: error: "

# options and operands of a command
run list foams --facto 3
says "unknown option: nearest" err "unknown option '--facto'; did you mean --factor?"
run list foams --factor 3
exits "option of another command: status" 2
same "option of another command: text" \
    "foampulse: error: --factor means nothing for 'list'; foampulse list --help lists its options" "$(cat err)"
run list foams --set a=1 --jobs 2
same "two of them: both told" 2 "$(grep -c 'means nothing' err)"
run chek bad.yaml
same "unknown command: nearest" "foampulse: error: unknown command 'chek'; did you mean 'check'?" "$(cat err)"
run list
exits "too few operands: status" 2
says "too few operands: text" err "list needs TOPIC"
run list foams shells
exits "too many operands: status" 2
says "too many operands: text" err "'shells' is too much"
run check --help
exits "help of a command: status" 0
says "help of a command: usage" out "usage: foampulse check [OPTION...] CASE..."
says "help of a command: options" out "-s, --set PATH=VALUE"
same "help of a command: its options alone" 0 "$(grep -c -- --factor out)"
run --help
for group in "trust" "look up"; do
    says "help: $group" out "$group"
done
for command in check list example measure; do
    says "help: $command" out "  $command "
done

# a big result into a full disk and into a reader that leaves
"$FOAMPULSE" list foams >/dev/full 2>err
same "full disk: status" 4 $?
says "full disk: told" err "No space left on device"
finish
