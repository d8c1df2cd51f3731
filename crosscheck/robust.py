"""Robust statistics of small arrays by astropy.stats and numpy: robust.json."""

import os

import numpy as np
from astropy import stats

import reference


def arrays():
    """Hand-made cases first, then draws with a fixed seed."""
    yield "outlier high", [1, 2, 3, 4, 5, 6, 7, 8, 9, 100]
    yield "two outliers that hide each other", [10.1, 9.9, 10.0, 10.2, 9.8, 10.05, 9.95, 10.0, 14.0, 3.0]
    yield "no outlier", list(range(1, 12))
    yield "outliers on both sides", [1000, 1001, 999, 1002, 998, 1000, 1003, 997, 1001, 999, 1000, 1500, 1000, 1002, 998, 400]
    yield "quantised, MAD zero", [2] * 7 + [9]
    yield "one value", [7.5]
    yield "two values", [1.0, 4.0]
    yield "all equal", [3.25] * 9
    rng = np.random.default_rng(20240201)
    yield "normal, even count", np.round(rng.normal(500, 7, 60), 6)
    yield "normal, odd count", np.round(rng.normal(-3, 0.02, 61), 9)
    yield "whole numbers, narrow", np.rint(rng.normal(502.3, 1.4, 80))
    yield "sky with stars", np.round(np.concatenate([rng.normal(1200, 12, 70), rng.exponential(3000, 10) + 1200]), 4)
    yield "skewed", np.round(rng.exponential(2.0, 75), 6)
    yield "heavy tails", np.round(rng.standard_t(2, 90), 6)


def measure(x):
    x = np.asarray(x, dtype=float)
    clipped = stats.sigma_clip(x, sigma=3, maxiters=10).compressed()
    return {
        "x": x.tolist(),
        "mean": x.mean(),
        "sd": x.std(),
        "median": float(np.median(x)),
        "mad": float(stats.median_absolute_deviation(x)),
        "mad_sigma": float(stats.mad_std(x)),
        "clip_mean": clipped.mean(),
        "clip_median": float(np.median(clipped)),
        "clip_sd": clipped.std(),
        "clip_n": len(clipped),
        "quantiles": {str(p): float(np.percentile(x, p)) for p in (0, 5, 15.87, 25, 50, 75, 84.13, 99, 100)},
    }


if __name__ == "__main__":
    args = reference.options(__doc__)
    cases = [{"name": name, **measure(x)} for name, x in arrays()]
    reference.write_json(os.path.join(args.out, "robust.json"), {"cases": cases}, reference.made_by("astropy", "numpy"))
