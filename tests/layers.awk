# Reads .c and .h files after tests/layers.txt; prints what breaks the order of the rooms. See tests/layers.

function stem(path)
{
    sub(/\.[ch]$/, "", path)
    return path
}

function complain(text)
{
    printf "%s:%d: %s\n", name, FNR, text
    bad++
}

# A line without comments, texts and character constants; `inside` carries an open comment over lines.
function code_of(line,    out, c, two)
{
    out = ""
    while (line != "") {
        two = substr(line, 1, 2)
        c = substr(line, 1, 1)
        if (inside) {
            if (two == "*/") {
                inside = 0
                line = substr(line, 3)
            } else
                line = substr(line, 2)
        } else if (two == "/*") {
            inside = 1
            line = substr(line, 3)
        } else if (two == "//")
            return out
        else if (match(line, /^"([^"\\]|\\.)*"/) || match(line, /^'([^'\\]|\\.)*'/)) {
            line = substr(line, RLENGTH + 1)
            out = out " "
        } else {
            out = out c
            line = substr(line, 2)
        }
    }
    return out
}

# Complains when a file outside `rooms` calls one of `functions` (parted by |).
function only_in(rooms, functions, what)
{
    if (me !~ ("^(" rooms ")$") && code ~ ("(^|[^A-Za-z0-9_.>])(" functions ")[ \t]*\\("))
        complain(what)
}

function word_only_in(rooms, words, what)
{
    if (me !~ ("^(" rooms ")$") && code ~ ("(^|[^A-Za-z0-9_.>])(" words ")[^A-Za-z0-9_]"))
        complain(what)
}

function header_only_in(rooms, header, what)
{
    if (me !~ ("^(" rooms ")$") && $0 ~ ("^[ \t]*#[ \t]*include[ \t]*<" header ">"))
        complain(what)
}

FILENAME == table {
    if ($1 ~ /^[0-9]+$/)
        order[$2] = $1 + 0
    next
}

FNR == 1 {
    inside = 0
    name = FILENAME
    sub(/^\.\//, "", name)
    me = stem(name)
    if (!(me in order))
        complain("not listed in tests/layers.txt")
}

/^[ \t]*#[ \t]*include[ \t]*"/ {
    split($0, part, "\"")
    other = stem(part[2])
    if (part[2] !~ /\.h$/)
        complain("includes " part[2] ", which is no header")
    else if (!(other in order))
        complain("includes " part[2] ", which is not listed in tests/layers.txt")
    else if (other != me && (me in order) && order[other] >= order[me])
        complain("includes " part[2] " (order " order[other] "), but stands at order " order[me] " itself")
}

{
    header_only_in("solver/base/linear", "(lapacke|lapack|cblas|openblas_config)\\.h", "LAPACK outside solver/base/linear")
    header_only_in("cases/container", "hdf5(_hl)?\\.h", "HDF5 outside cases/container")
    header_only_in("cases/reader", "yaml\\.h", "libyaml outside cases/reader")
    code = code_of($0) " "
    only_in("solver/base/memory", "(m|c|re|aligned_)alloc|reallocarray|posix_memalign|strn?dup|v?asprintf|getline|getdelim|open_memstream|free",
        "the C library's allocation outside solver/base/memory")
    only_in("solver/cli/.*", "v?printf|puts|putchar|perror", "printing outside solver/cli")
    word_only_in("solver/cli/.*", "stdout|stderr", "printing outside solver/cli")
    only_in("solver/cli/.*", "exit|abort|quick_exit", "ends the program outside solver/cli")
    only_in("solver/cli/.*|cases/probe", "_exit|_Exit", "ends the process outside solver/cli and the child of cases/probe")
    only_in("solver/study/queue", "pthread_create", "a thread started outside solver/study/queue")
    only_in("cases/journal", "flock|lockf", "a file locked outside cases/journal")
    only_in("cases/probe", "fork|vfork", "a process forked outside cases/probe")
    only_in("plots/gnuplot", "system|popen|posix_spawnp?|execl[ep]?|execv[ep]?", "a program started outside plots/gnuplot")
    only_in("", "setlocale", "the locale stays \"C\"")
    if (me ~ /_kernel$/)
        only_in("", "exp2?|expm1|log(2|10|1p)?|pow|cbrt|hypot|a?(sin|cos|tan)h?|atan2|fma|fmin|fmax",
            "libm in a kernel: its bits differ between machines")
}

END {
    exit bad > 0
}
