# tests/deps with an apt of our own, and without apt. Fails when apt is asked for what is there, when a command runs
# without being echoed, or when a missing library is left out of the list.
. "$(dirname "$0")/../cli/harness.sh"
unset CC
bin=$scratch/bin
mkdir "$bin"

# tool NAME [LINE...]: a command of our own
tool() {
    name=$1
    shift
    printf '%s\n' '#!/bin/sh' "$@" >"$bin/$name"
    chmod +x "$bin/$name"
}

deps() {
    PATH=$bin PYTHON=$bin/python3 sh "$source/tests/deps" "$@" >"$scratch/out" 2>"$scratch/err"
    status=$?
}

# --- apt, three packages missing -------------------------------------------------------------------------------
sh=$(command -v sh)
ln -s "$sh" "$bin/sh"
tool dpkg-query 'for last; do :; done' 'case $last in lib*-dev|gnuplot-nox) exit 1 ;; *) printf installed ;; esac'
tool apt-get "echo \"apt-get \$*\" >>$scratch/called"
tool id 'echo 0'
deps gcc libyaml-dev libgsl-dev gnuplot-nox
exits "apt: status" 0
same "apt: asked for what is missing alone" "apt-get update -q
apt-get install -q -y --no-install-recommends libyaml-dev libgsl-dev gnuplot-nox" "$(cat "$scratch/called")"
same "apt: echoed first" "$(cat "$scratch/called")" "$(cat "$scratch/out")"

tool gnuplot
rm "$scratch/called"
deps libyaml-dev gnuplot-nox
says "apt: a gnuplot that is there is enough" called "install -q -y --no-install-recommends libyaml-dev"
case $(cat "$scratch/called") in
*gnuplot*) not_ok "apt: no gnuplot-nox beside it" "$(cat "$scratch/called")" ;;
*) ok "apt: no gnuplot-nox beside it" ;;
esac

rm "$scratch/called"
deps gcc make gnuplot-nox
exits "apt: nothing missing: status" 0
silent "apt: nothing missing: says nothing" out
if [ -e "$scratch/called" ]; then not_ok "apt: not called" "called"; else ok "apt: not called"; fi

# --- not root ----------------------------------------------------------------------------------------------------
tool id 'echo 1000'
deps libyaml-dev
exits "no root, no sudo: status" 1
says "no root, no sudo: what to type" err "as root: apt-get install libyaml-dev"
tool sudo "echo \"sudo \$*\" >>$scratch/called"
deps libyaml-dev
exits "sudo: status" 0
says "sudo: called" called "sudo apt-get install -q -y --no-install-recommends libyaml-dev"

tool sudo 'exit 100'
deps libyaml-dev
exits "apt fails: its status" 100

# --- no apt ------------------------------------------------------------------------------------------------------
rm "$bin/apt-get" "$bin/gnuplot"
all="gcc make pkg-config libc6-dev libhdf5-dev libopenblas-serial-dev liblapacke-dev libyaml-dev libjansson-dev gnuplot-nox
    libcriterion-dev libgsl-dev clang-tidy libsundials-dev python3-numpy"
deps $all
exits "no apt, nothing there: status" 1
for missing in "C17 compiler" pkg-config HDF5 libyaml jansson gnuplot Criterion GSL LAPACKE clang-tidy SUNDIALS NumPy; do
    says "no apt, nothing there: $missing" err "$missing"
done
same "no apt: one list" 1 "$(grep -c Missing "$scratch/err")"
for there in cc pkg-config gnuplot clang-tidy python3; do
    tool $there
done
deps $all
exits "no apt, all there: status" 0
silent "no apt, all there: says nothing" err
tool pkg-config 'for last; do :; done' '[ "$last" != jansson ]'
deps $all
exits "no apt, one missing: status" 1
same "no apt, one missing: named alone" "No apt here. Missing:
  jansson with its headers (pkg-config jansson)" "$(cat "$scratch/err")"
finish
