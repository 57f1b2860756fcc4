"""Writes surrogate_reference.csv beside this file: Gaussian processes by scikit-learn (Debian python3-sklearn; the
version stands in the first line of the output). Run: python3 tests/unit/surrogate_reference.py

The process of scikit-learn has mean 0. A constant mean under a flat prior is put around it by Rasmussen and Williams
2006, 2.40 to 2.42, from two of its fits with the same covariance: u = K^-1 1 is what a fit of ones has for weights, and
k*' u is what that fit predicts. Then mean m = u'y / u'1; prediction = m + that of y - m; variance = that of y - m
+ (1 - k*' u)^2 / u'1.

Rows: kind, x1, x2, x3, a, b
  given    lengths; signal variance, noise variance
  overall  nothing; likelihood ln p at these with that mean, the mean
  point    x; y
  query    x; predicted mean, standard deviation of f
  fitted   lengths; likelihood of GaussianProcessRegressor's own fit to y - its sample mean
  profile  lengths; the largest likelihood over lengths, variances and mean, by SciPy from that fit
"""
import os

import numpy
import scipy
import sklearn
from scipy.optimize import minimize
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

COUNT, QUERIES = 60, 20
LENGTHS, VARIANCE, NOISE = [0.45, 0.8, 2.5], 900.0, 0.4


def response(x):
    """A bend along the first factor, as of a liner that bottoms out, on a smooth slope."""
    return 180 + 40 * numpy.maximum(0.35 - x[:, 0], 0) * (1 + x[:, 1]) + 12 * numpy.sin(3 * x[:, 1]) + 5 * x[:, 2]


def covariance(lengths, variance, noise):
    kernel = ConstantKernel(variance, (1e-3, 1e9)) * Matern(lengths, (1e-2, 1e4), nu=2.5)
    return kernel + WhiteKernel(noise, (1e-6, 1e5))


def fixed(kernel, x, y):
    return GaussianProcessRegressor(kernel, alpha=0, optimizer=None).fit(x, y)


def with_mean(kernel, x, y):
    """The fits of y - m and of ones, and m."""
    ones = fixed(kernel, x, numpy.ones(len(x)))
    m = ones.alpha_ @ y / ones.alpha_.sum()
    return fixed(kernel, x, y - m), ones, m


def profile(theta, kernel, x, y):
    return -with_mean(kernel.clone_with_theta(theta), x, y)[0].log_marginal_likelihood_value_


random = numpy.random.default_rng(6)
points = random.random((COUNT, 3)).round(4)
values = (response(points) + 0.6 * random.standard_normal(COUNT)).round(3)
queries = random.random((QUERIES, 3)).round(4)

kernel = covariance(LENGTHS, VARIANCE, NOISE)
process, ones, m = with_mean(kernel, points, values)
mean, deviation = process.predict(queries, return_std=True)
# return_std counts the noise of WhiteKernel in: taken off again
along = ones.predict(queries)
variance = deviation**2 - NOISE + (1 - along) ** 2 / ones.alpha_.sum()

own = GaussianProcessRegressor(covariance([1, 1, 1], 100.0, 1.0), alpha=0, n_restarts_optimizer=20, random_state=1)
own.fit(points, values - values.mean())
best = minimize(profile, own.kernel_.theta, (own.kernel_, points, values), "Nelder-Mead",
                options={"xatol": 1e-7, "fatol": 1e-9, "maxiter": 20000, "maxfev": 20000})
assert best.success
best_kernel = own.kernel_.clone_with_theta(best.x)

with open(os.path.splitext(os.path.abspath(__file__))[0] + ".csv", "w") as file:
    def row(kind, x, a, b):
        file.write(",".join([kind] + [repr(float(v)) for v in (*x, a, b)]) + "\n")

    file.write(f"# surrogate_reference.py, scikit-learn {sklearn.__version__}, SciPy {scipy.__version__}, "
               f"NumPy {numpy.__version__}\nkind,x1,x2,x3,a,b\n")
    row("given", LENGTHS, VARIANCE, NOISE)
    row("overall", [0, 0, 0], process.log_marginal_likelihood_value_, m)
    for x, y in zip(points, values):
        row("point", x, y, 0)
    for x, a, b in zip(queries, mean + m, numpy.sqrt(variance)):
        row("query", x, a, b)
    row("fitted", own.kernel_.k1.k2.length_scale, own.log_marginal_likelihood_value_, 0)
    row("profile", best_kernel.k1.k2.length_scale, -best.fun, 0)
