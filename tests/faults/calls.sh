# Lets every call of the system go wrong once, in turn (tests/faults/calls.c): it fails, the disk is full half-way through
# a write, it is interrupted, or the process is killed or told to end right before it:
#
#   tests/faults/calls.sh [STEP [FIRST [COMMAND...]]]      each STEPth call from the FIRSTth on (1 1: all)
#
# Each time: the earlier file stands or the new one is whole; the exit status and one message say what happened; no
# temporary file is left but by SIGKILL; every record of the journal is still there; the next, undisturbed command ends
# with the same result as if nothing had been, and nothing else in the folder. $FOAMPULSE is the program.
[ -w /dev/shm ] && export TMPDIR=/dev/shm
. "$(dirname "$0")/../cli/harness.sh"
step=${1:-1} first=${2:-1}
[ $# -gt 2 ] && shift 2 || set --
commands=${*:-run points picture check show measure text}
built=$(dirname "$FOAMPULSE")/tests/faults
cd "$scratch" || exit 1
mkdir start wanted

# Which of the two builds the commands below run.
undisturbed() { foampulse=$FOAMPULSE points=$built/points; }
disturbed() { foampulse=$built/foampulse_calls points=$built/points_calls; }
undisturbed

hash() {
    grep -aoE -m 1 '[0-9a-f]{64}' "$1" 2>/dev/null | head -n 1
}

bad() {
    not_ok "$what, call $number ($called), $manner: $1" "$2; status $status: $(tail -n 3 "$scratch/err")"
}

# pad SPEED...: a case that is solved in milliseconds.
pad() {
    printf 'pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm}]}\nstriker: {mass: 5 kg}\n'
    printf 'solver: {cell: 2 mm, duration: 2 ms}\nlimits: {peak_g: 900 g}\nimpacts:\n'
    for speed; do echo "  - {speed: $speed m/s}"; done
}

# --- the three that write: what they start from, what they do, what is right afterwards

# Two cases, each with an earlier result; of the first one impact is in a journal with a torn end.
pad 4 5 6 >start/a.yaml
pad 3 >start/b.yaml
(cd start && "$FOAMPULSE" run a.yaml b.yaml -q) >out 2>err || cat err
cp start/a.h5 start/b.h5 wanted/
(cd start && "$FOAMPULSE" run a.yaml b.yaml -q -s "impacts.*.speed=2 m/s") >out 2>err || cat err
# killed before it adds a second record, behind the header and the first
(cd start && FOAMPULSE_CALL=3:KILL:pwrite FOAMPULSE_CALL_LOG=../out "$built/foampulse_calls" run a.yaml -q -j 1) 2>noise
same "a journal to begin with" 1 "$("$points" count start/a.h5.part)"
printf torn >>start/a.h5.part
do_run() { "$foampulse" run a.yaml b.yaml -q -j 1; }
left_run="a.h5 a.yaml b.h5 b.yaml"
right_run() { [ "$(hash a.h5) $(hash b.h5)" = "$(hash ../wanted/a.h5) $(hash ../wanted/b.h5)" ]; }
whole_run() {
    for name in a b; do
        case $(hash $name.h5) in
        "$(hash ../start/$name.h5)" | "$(hash ../wanted/$name.h5)") ;;
        *) # told to end: a result that says which impacts were not solved, beside its journal
            case $manner in TERM | INT) [ -e $name.h5.part ] && "$FOAMPULSE" show $name.h5 >/dev/null 2>&1 ;; *) false ;; esac
            ;;
        esac || return 1
    done
}
held_run() { right_run || [ "$("$points" count a.h5.part)" -ge 1 ] || [ "$(hash a.h5)" = "$(hash ../wanted/a.h5)" ]; }

# A sweep of 30 points with an earlier result.
do_points() { "$points" solve p.h5 30; }
(cd wanted && "$points" solve p.h5 30) >out
cp wanted/p.h5 start/p.h5
printf old >>start/p.h5
left_points="p.h5"
right_points() { cmp -s p.h5 ../wanted/p.h5; }
whole_points() { right_points || cmp -s p.h5 ../start/p.h5; }
held_points() { right_points || [ "$("$points" count p.h5.part)" -ge "$(sed -n '/^[0-9]*$/p' ../out | tail -n 1 | grep . || echo 0)" ]; }

# A picture in the place of an earlier one, and one to the terminal.
(cd wanted && "$FOAMPULSE" plot a.h5 --picture pulse --format svg) 2>err || cat err
cp wanted/a.h5 start/c.h5 && mv wanted/a.pulse.svg wanted/c.pulse.svg
sed 's/svg>/svg> /' wanted/c.pulse.svg >start/c.pulse.svg
do_picture() { "$foampulse" plot c.h5 --picture pulse --format svg; }
left_picture="c.h5 c.pulse.svg"
right_picture() { cmp -s c.pulse.svg ../wanted/c.pulse.svg; }
whole_picture() { right_picture || cmp -s c.pulse.svg ../start/c.pulse.svg; }
held_picture() { cmp -s c.h5 ../start/c.h5; }

# --- those that read: the right words, or a message

printf 'include: part.yaml\nlimits: {peak_g: 900 g}\n' >start/d.yaml
{
    printf 'foams: {mine: {like: eps, curves: [{density: 50 kg/m3, file: curve.csv}]}}\n'
    pad 3 | sed 's/eps/mine/; /limits/d'
} >start/part.yaml
printf 'strain (%%),stress (kPa)\n2,250\n10,350\n20,380\n30,420\n40,480\n50,570\n60,720\n70,1050\n80,2000\n' >start/curve.csv
printf 'time (ms),acceleration (g)\n0,0\n1,20\n2,50\n3,80\n4,100\n5,100\n6,90\n7,70\n8,40\n9,20\n10,5\n11,0\n12,0\n' >start/pulse.csv
do_check() { "$foampulse" check d.yaml; }
do_show() { "$foampulse" show c.h5; }
do_measure() { "$foampulse" measure pulse.csv; }
do_text() { "$foampulse" plot c.h5 --picture pulse --format text; }
for reader in check show measure text; do
    (cd start && "do_$reader") >wanted/$reader 2>err || cat err
done
left_check="curve.csv d.yaml part.yaml" left_show="c.h5" left_measure="pulse.csv" left_text="c.h5"
right_check() { cmp -s ../out ../wanted/check; }
right_show() { cmp -s ../out ../wanted/show; }
right_measure() { cmp -s ../out ../wanted/measure; }
right_text() { cmp -s ../out ../wanted/text; }
for reader in check show measure text; do
    eval "whole_$reader() { :; }; held_$reader() { :; }"
done

# --- one fault, and what is right after it

judge() {
    case $manner:$status in
    KILL:137 | TERM:143 | INT:130) ;;
    error:[034] | full:[034] | again:[034]) ;;
    error:1 | full:1 | again:1) [ "$what" = points ] || bad "status" "internal error" ;;
    *) bad "status" "not what it should be" ;;
    esac
    case $manner in error | full | again)
        words=$(grep -cE 'Input/output error|No space left on device|Interrupted system call|damaged or not' err)
        if [ "$status" != 0 ] && { [ "$words" != 1 ] || [ "$(grep -cE 'error:|^points:' err)" != 1 ]; }; then
            bad "one message with its reason" "$(cat "$scratch/err")"
        fi
        ;;
    esac
    cd work || exit 1
    [ "$status" = 0 ] && { "right_$what" || bad "status 0: the result is the right one" "it is not"; }
    "whole_$what" || bad "the earlier file stands or the new one is whole" "$(ls)"
    "held_$what" || bad "what was acknowledged is there" "$(ls)"
    # the sweep catches no signal
    left=$manner
    case $what:$manner in points:TERM | points:INT) left=KILL ;; esac
    if [ "$left" != KILL ] && [ "$(find . -name '*.tmp' | grep -c .)" != 0 ]; then bad "no temporary file" "$(ls)"; fi
    "do_$what" >../out 2>../err
    status=$?
    [ $status = 0 ] || bad "the next command" "fails"
    "right_$what" || bad "the next command: its result" "is not the right one"
    # nobody may know whether another process still draws the picture that a killed one began
    [ "$what:$manner" = picture:KILL ] && rm -f ./*.tmp
    [ "$(find . -type f | sed 's|./||' | sort | tr '\n' ' ')" = "$(eval "echo \$left_$what") " ] || bad "nothing else is left" "$(ls)"
    cd ..
}

# walk NAME MANNER...
walk() {
    what=$1
    shift
    for manner; do
        faults=0 harmless=0 number=$first
        while [ $failures -lt 10 ] && [ $number -lt 1000 ]; do
            rm -rf work called && mkdir work
            for name in $(eval "echo \$left_$what") $([ "$what" = run ] && echo a.h5.part); do cp "start/$name" work/; done
            disturbed
            # what the shell says of the signal goes to `noise`
            (cd work && export FOAMPULSE_CALL=$number:$manner FOAMPULSE_CALL_LOG="$scratch/called" && "do_$what") \
                >out 2>err
            status=$?
            undisturbed
            [ -e called ] || break
            called=$(cat called)
            faults=$((faults + 1)) harmless=$((harmless + (status == 0)))
            judge
            number=$((number + step))
        done
        [ $failures = 0 ] && ok "$what: $faults times $manner"
        if [ $faults = 0 ]; then not_ok "$what: $manner" "nothing went wrong"; fi
        echo "figure: $what: $faults calls, $manner ($harmless without effect)"
    done
}
exec 3>&2 2>>noise
for name in $commands; do
    case $name in
    run | points) walk $name error full again KILL TERM INT ;;
    picture) walk $name error full again KILL TERM ;;
    *) walk $name error again TERM ;;
    esac
done
exec 2>&3
grep -vE '^(Killed|Terminated|Interrupt|)$' noise
finish
