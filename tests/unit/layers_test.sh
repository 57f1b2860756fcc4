# Every rule of tests/layers is broken once in a small tree of its own and has to be told.
. "$(dirname "$0")/../cli/harness.sh"

# A tree that keeps all rules.
tree() {
    rm -rf "$scratch/tree"
    mkdir -p "$scratch/tree/solver/base" "$scratch/tree/solver/cli" "$scratch/tree/cases" "$scratch/tree/tests"
    cd "$scratch/tree" || exit 1
    printf '%s\n' '# order' '10 solver/base/low' '11 solver/base/high' '11 solver/base/beside' \
        '12 solver/base/fast_kernel' '13 solver/base/linear' '14 solver/base/memory' '50 cases/reader' '51 cases/container' \
        '80 solver/cli/main' >tests/layers.txt
    echo '#include "solver/base/high.h"' >solver/base/high.c
    echo '#include "solver/base/low.h"' >>solver/base/high.c
    echo '#include "solver/base/low.h"' >solver/base/high.h
    : >solver/base/low.h
    : >solver/base/beside.h
    echo '/* malloc(1), exit(1) in a comment' >solver/base/beside.c
    echo ' printf("x") */ const char *text = "free(x)"; // puts(x)' >>solver/base/beside.c
    echo 'int snprintf(char *); int gate = row->exit(1) + table.free(2) + my_free(3);' >>solver/base/beside.c
    printf '%s\n' '#include <stdio.h>' 'int main(void) { printf("x"); exit(1); }' >solver/cli/main.c
    echo '#include <lapacke.h>' >solver/base/linear.c
    echo 'void *f(void) { return malloc(1); }' >solver/base/memory.c
    echo '#include <yaml.h>' >cases/reader.c
    echo '#include <hdf5.h>' >cases/container.c
}

layers() {
    : >"$scratch/err"
    "$source/tests/layers" "$scratch/tree" >"$scratch/out" 2>&1
    status=$?
}

# breach NAME FILE LINE TEXT: this line at the end of this file is told with this text.
breach() {
    tree
    printf '%s\n' "$3" >>"$2"
    layers
    says "layers: $1" out "$2:"
    says "layers: $1: text" out "$4"
    exits "layers: $1: status" 1
}

tree
layers
exits "layers: a tree in order: status" 0
same "layers: a tree in order: text" "layers: 10 files in order" "$(cat "$scratch/out")"

breach "higher order" solver/base/low.h '#include "solver/base/high.h"' 'includes solver/base/high.h (order 11)'
breach "same order" solver/base/beside.h '#include "solver/base/high.h"' 'includes solver/base/high.h (order 11)'
breach "file not listed" solver/base/new.c '' 'not listed in tests/layers.txt'
breach "header not listed" solver/base/high.c '#include "solver/base/new.h"' 'which is not listed'
breach "not from the root" solver/base/high.c '#include "low.h"' 'which is not listed'
breach "source included" solver/base/high.c '  #  include "solver/base/low.c"' 'which is no header'
breach "LAPACK" solver/base/high.c '#include <lapacke.h>' 'LAPACK outside'
breach "BLAS" solver/base/high.c '#include <cblas.h>' 'LAPACK outside'
breach "HDF5" cases/reader.c '#include <hdf5.h>' 'HDF5 outside'
breach "HDF5, high level" cases/reader.c '# include <hdf5_hl.h>' 'HDF5 outside'
breach "libyaml" cases/container.c '#include <yaml.h>' 'libyaml outside'
for call in 'malloc(1)' 'calloc(1, 1)' 'realloc(p, 1)' 'strdup(s)' 'strndup(s, 1)' 'aligned_alloc(64, 64)' 'free(p)' \
    'open_memstream(&p, &n)' 'getline(&p, &n, f)' 'asprintf(&p, s)' 'free (p)'; do
    breach "$call" solver/base/high.c "x = $call;" 'allocation outside'
done
for call in 'printf("x")' 'puts(s)' 'perror(s)' 'fputs(s, stderr)' 'fprintf(stdout, s)'; do
    breach "$call" solver/base/high.c "$call;" 'printing outside'
done
for call in 'exit(1)' 'abort()' '_exit(1)'; do
    breach "$call" solver/base/high.c "    $call;" 'outside solver/cli'
done
breach "after a comment" solver/base/high.c '/* x */ exit(1);' 'ends the program'
breach "after a text" solver/base/high.c 'f("\"/*"); exit(1);' 'ends the program'
breach "thread" solver/base/high.c 'pthread_create(&t, 0, f, 0);' 'thread started'
breach "lock" solver/base/high.c 'flock(1, 2);' 'a file locked'
breach "fork" solver/base/high.c 'fork();' 'process forked'
for call in 'system(s)' 'popen(s, "r")' 'posix_spawnp(a)' 'execvp(a, b)'; do
    breach "$call" solver/base/high.c "$call;" 'program started'
done
breach "locale" solver/cli/main.c 'setlocale(0, "");' 'the locale'
for call in 'exp(x)' 'log2(x)' 'pow(x, y)' 'sin(x)' 'atan2(x, y)' 'fmin(x, y)' 'tanh(x)' 'fma(a, b, c)'; do
    breach "$call in a kernel" solver/base/fast_kernel.c "y = $call;" 'libm in a kernel'
done

tree
mkdir helpers
layers
says "layers: top level" out "helpers: nothing else belongs to the top level"
exits "layers: top level: status" 1
finish
