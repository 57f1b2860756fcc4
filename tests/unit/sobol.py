"""Writes solver/study/sobol_table.c and tests/unit/sobol.csv from the direction numbers and the Sobol sequence of
SciPy: /usr/bin/python3 tests/unit/sobol.py, from the top of the sources, with python3-scipy. Then clang-format -i.

Prints the digest of all factors and the seeded points in tests/unit/sampling_test.c besides, these from the
description in solver/study/sampling.h."""

import hashlib
import os

import numpy
import scipy
from scipy.stats import qmc

ROWS, START = 256, 11
FACTORS, NEAR, FAR = 64, 64, [32768 + k for k in (0, 1, 2, 3, 1023, 4095, 16382, 32767)]


def write_table():
    path = os.path.join(os.path.dirname(scipy.__file__), "stats", "_sobol_direction_numbers.npz")
    data = numpy.load(path)
    with open("solver/study/sobol_table.c", "w") as out:
        out.write("/*\n * Numbers of Frances Y. Kuo and Stephen Joe (2008), who give them away under a licence of the\n"
                  " * three-clause BSD kind; written by tests/unit/sobol.py from the copy in SciPy %s.\n */\n" % scipy.__version__)
        out.write("#include \"solver/study/sobol_table.h\"\n\n")
        out.write("const struct sobol_row sobol_table[SOBOL_ROWS] = {\n")
        for row in range(ROWS):
            polynomial = int(data["poly"][row])
            degree = polynomial.bit_length() - 1
            start = [int(m) for m in data["vinit"][row][:degree]]
            assert degree <= START
            inner = (polynomial - (1 << degree)) >> 1
            out.write("    {%d, %d, {%s}},\n" % (degree, inner, ", ".join(map(str, start)) if start else "0"))
        out.write("};\n")


def write_points():
    points = qmc.Sobol(FACTORS, scramble=False, bits=32).random(2 * FAR[0])
    with open("tests/unit/sobol.csv", "w") as out:
        out.write("# scipy.stats.qmc.Sobol(%d, scramble=False, bits=32) of SciPy %s, NumPy %s, written by\n"
                  % (FACTORS, scipy.__version__, numpy.__version__))
        out.write("# tests/unit/sobol.py: number of the point from 0, then each factor times 2^32.\n")
        out.write("point," + ",".join("x%d" % (f + 1) for f in range(FACTORS)) + "\n")
        for i in list(range(NEAR)) + FAR:
            digits = points[i] * 2.0**32
            assert (digits == numpy.floor(digits)).all()
            out.write("%d,%s\n" % (i, ",".join("%d" % d for d in digits)))


def print_digest():
    points = qmc.Sobol(ROWS, scramble=False, bits=32).random(4096) * 2.0**32
    print(hashlib.sha256(points.astype("<u4").tobytes()).hexdigest())


def splitmix(state):
    mask = (1 << 64) - 1
    while True:
        state = (state + 0x9E3779B97F4A7C15) & mask
        z = ((state ^ (state >> 30)) * 0xBF58476D1CE4E5B9) & mask
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & mask
        yield z ^ (z >> 31)


def latin_column(draw, points):
    column = [(i + ((next(draw) >> 40) + 0.5) * 2.0**-24) / points for i in range(points)]
    for i in range(points, 1, -1):
        other = next(draw) % i
        column[i - 1], column[other] = column[other], column[i - 1]
    return column


def print_seeded(seed, points, factors):
    draw = splitmix(seed)
    columns = [latin_column(draw, points) for _ in range(factors)]
    draw = splitmix(seed)
    shifts = [next(draw) >> 12 for _ in range(factors)]
    plain = qmc.Sobol(factors, scramble=False, bits=32).random(points)
    print([column[i].hex() for i in range(points) for column in columns])
    print([(((int(x * 2**52) ^ shift) + 0.5) * 2.0**-52).hex() for row in plain for x, shift in zip(row, shifts)])


write_table()
write_points()
print_digest()
print_seeded(1, 4, 3)
