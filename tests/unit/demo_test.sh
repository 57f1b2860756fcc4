# The script of `make demo` with its output in one file: every line whole and in order, a failure passed on. A script
# stands in for the program.
source=$(cd "$(dirname "$0")/../.." && pwd)
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
cd "$scratch" || exit 1
failures=0

# same NAME WANTED GOT: two texts are equal.
same() {
    if [ "$2" = "$3" ]; then echo "ok $1"; else
        echo "not ok $1: '$3', not '$2'"
        failures=$((failures + 1))
    fi
}

# Prints a table, then a remark in two pieces, as a program with an unbuffered stderr would.
mkdir -p .build/release
cat >.build/release/foampulse <<'END'
#!/bin/sh
seq 1000
printf 'wrote a ' >&2
printf 'file\n' >&2
exit "${FAILS:-0}"
END
chmod +x .build/release/foampulse

for round in 1 2 3 4 5; do
    sh "$source/cases/demo/demo.sh" >all.txt 2>&1
    same "status, $round" 0 $?
    same "ten commands, table and remark of each in order, $round" "$(for i in 1 2 3 4 5 6 7 8 9 10; do seq 1000; echo "wrote a file"; done)" \
        "$(grep -E '^([0-9]+|.*wrote.*|.*file)$' all.txt | grep -v '^\$')"
done
same "the tables are kept" "$(seq 1000)" "$(cat .build/demo/family.txt)"
same "nothing else is left" "bench-pad.txt design.yaml family.txt house.yaml rank.txt sweep.txt tolerance.txt tune.txt" \
    "$(ls .build/demo | tr '\n' ' ' | sed 's/ $//')"

FAILS=5 sh "$source/cases/demo/demo.sh" >all.txt 2>&1
same "a failure: its status" 5 $?
same "a failure: its remark is the last line" "wrote a file" "$(tail -n 1 all.txt)"
exit $((failures > 0))
