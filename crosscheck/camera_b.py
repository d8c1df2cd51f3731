"""Figures of a real cooled CCD from its bias, dark and flat frames: camera-b.json.

Formulas: Janesick, Photon Transfer (2007), and Howell, Handbook of CCD
Astronomy (2nd ed. 2006), section 4.3: two flats, two biases. Clipping by
astropy.stats.sigma_clip; its bias at 5 sigma is 7e-6 and is left in.
"""

import os

import numpy as np
from astropy.stats import sigma_clip
from scipy.stats import truncnorm

import reference

BOLTZMANN_EV = 8.617333262e-5  # eV/K, CODATA 2018
TILE = 64  # px


def clipped(x, sigma=5):
    kept = sigma_clip(x, sigma=sigma, maxiters=50, masked=False)
    return kept


def pair_noise(a, b):
    """sd of a difference over root 2, clipped at 5 sigma."""
    return float(clipped(a - b).std() / np.sqrt(2))


def gain_by_tiles(f1, f2, b1, b2):
    """Median over tiles of [(F1+F2)-(B1+B2)] / [var(F1-F2) - var(B1-B2)], e-/ADU."""
    rows, cols = f1.shape
    gains = []
    for y in range(0, rows - TILE + 1, TILE):
        for x in range(0, cols - TILE + 1, TILE):
            s = np.s_[y : y + TILE, x : x + TILE]
            level = np.median(f1[s] + f2[s]) - np.median(b1[s] + b2[s])
            spread = clipped(f1[s] - f2[s]).var(ddof=1) - clipped(b1[s] - b2[s]).var(ddof=1)
            gains.append(level / spread)
    return float(np.median(gains)), float(1.2533 * np.std(gains) / np.sqrt(len(gains)))


def gain_of_whole_frames(f1, f2, b1, b2):
    level = clipped(f1 + f2).mean() - clipped(b1 + b2).mean()
    return float(level / (clipped(f1 - f2).var() - clipped(b1 - b2).var()))


def rate(dark, bias, seconds):
    d = (dark - bias) / seconds
    return float(np.median(d)), float(clipped(d).mean())


if __name__ == "__main__":
    args = reference.options(__doc__)
    folder = os.path.join(args.data, "camera-b")
    reference.require(folder)

    def frame(name):
        return reference.pixels(os.path.join(folder, name + ".fit.gz"))

    bias = [frame(f"bias_0c_{i}") for i in range(1, 7)]
    levels = [float(np.median(b)) for b in bias]
    pairs = [pair_noise(a, b) for a, b in zip(bias, bias[1:])]
    pooled = float(np.sqrt(np.mean(np.square(pairs))))
    master = np.median(bias[1:], axis=0)  # the first sits high

    names = {10: "010s", 60: "060s", 90: "090s", 120: "120s", 180: "180s", 240: "240s", 300: "300s"}
    darks = {t: frame(f"dark_0c_{n}") for t, n in names.items()}
    darks[30] = (frame("dark_0c_030s_1") + frame("dark_0c_030s_2")) / 2
    times = sorted(darks)
    medians = [float(np.median(darks[t] - master)) for t in times]
    means = [float(clipped(darks[t] - master).mean()) for t in times]
    slope, intercept = np.polyfit(times, medians, 1)
    mean_slope, _ = np.polyfit(times, means, 1)

    at0 = rate(darks[300], master, 300)
    at10 = rate(frame("dark_10c_300s"), frame("bias_10c_1"), 300)
    t0, t10 = 273.15, 283.15
    activation = BOLTZMANN_EV * np.log(at10[0] / at0[0]) / (1 / t0 - 1 / t10)
    middle = (t0 + t10) / 2

    flats = frame("flat_m5c_1"), frame("flat_m5c_2")
    cold = frame("bias_m5c_1"), frame("bias_m5c_2")
    gain, gain_error = gain_by_tiles(*flats, *cold)

    values = {
        "bias_level_adu": levels,
        "read_noise_pairs_adu": pairs,
        "read_noise_adu": pooled,
        "read_noise_without_quantisation_adu": float(np.sqrt(pooled**2 - 1 / 12)),
        "read_noise_m5c_adu": pair_noise(*cold),
        "dark_exposures_s": times,
        "dark_median_adu": medians,
        "dark_slope_adu_per_s": float(slope),
        "dark_intercept_adu": float(intercept),
        "dark_mean_slope_adu_per_s": float(mean_slope),
        "dark_300s_0c_adu_per_s": at0[0],
        "dark_300s_10c_adu_per_s": at10[0],
        "activation_ev": float(activation),
        "doubling_c": float(middle**2 * BOLTZMANN_EV * np.log(2) / activation),
        "gain_by_tiles_e_per_adu": gain,
        "gain_by_tiles_error": gain_error,
        "gain_whole_frame_e_per_adu": gain_of_whole_frames(*flats, *cold),
        "clip_bias_at_5_sigma": float(1 - truncnorm.std(-5, 5)),
    }
    reference.write_json(os.path.join(args.out, "camera-b.json"), values, reference.made_by("astropy", "scipy", "numpy"))
