"""Real star field, 18 subs: Moffat fits by scipy, detections by sep and photutils.

field-a-moffat.csv    one row a sub: medians over isolated, unsaturated stars
field-a-fits-N.csv    the fitted stars of three subs (good, broad, elongated)
field-a-sources-N.csv what sep and photutils find in these three at 5 sigma
field-a-counts.json   how many they find

Positions count from 0 at the centre of the first pixel; angles counter-clockwise
from +x.
"""

import glob
import os

import numpy as np
import sep
from photutils.detection import DAOStarFinder
from scipy.spatial import cKDTree

import moffat
import reference

GAIN = 1.9  # e-/ADU, from the headers
SATURATION = 65300  # ADU, the level that the frames are clipped at
SHOWN = {"good": "sub_0100", "broad": "sub_0037", "elongated": "sub_0092"}
MOST = 60  # fitted stars a sub, brightest first


def detect(image):
    background = sep.Background(image, bw=64, bh=64)
    sky = image - background.back()
    found, segments = sep.extract(sky, 5.0, err=background.globalrms, segmentation_map=True)
    return background, sky, found, segments


def isolated(found, image, width):
    """Unsaturated, unblended, and no neighbour above 3 % of its flux within 3 FWHM. Brightest first."""
    tree = cKDTree(np.c_[found["x"], found["y"]])
    for i in np.argsort(-found["flux"]):
        o = found[i]
        around = image[max(o["ymin"] - 1, 0) : o["ymax"] + 2, max(o["xmin"] - 1, 0) : o["xmax"] + 2]
        if o["flag"] or around.max() > 0.8 * SATURATION:
            continue
        near = [j for j in tree.query_ball_point((o["x"], o["y"]), 3 * width) if j != i]
        if all(found["flux"][j] < 0.03 * o["flux"] for j in near):
            yield i


def typical_width(found):
    """First guess of the FWHM: median over unflagged sources of good size, by moments."""
    good = (found["flag"] == 0) & (found["npix"] >= 12)
    return 2.3548 * float(np.median(np.sqrt(found["a"][good] * found["b"][good])))


def fit_stars(image, sky, found, segments, noise):
    width = typical_width(found)
    stars = []
    for i in isolated(found, image, width):
        others = (segments != 0) & (segments != i + 1)
        star = moffat.fit(sky, others, found["x"][i], found["y"][i], width, noise, GAIN)
        # A fitted size far from all others is a galaxy, a hit or a blend that passed as one source.
        if star and star["snr"] >= 50 and 0.5 < star["fwhm"] / width < 2:
            stars.append({**star, "half_flux_radius": half_flux_radius(sky, segments, i + 1, star, 3 * width)})
        if len(stars) == MOST:
            break
    return stars


def half_flux_radius(sky, segments, own, star, reach):
    """Radius of half the light within reach, above the median of a ring around it; neighbours masked."""
    yy, xx = np.indices(sky.shape)
    r = np.hypot(xx - star["x"], yy - star["y"])
    level = np.median(sky[(r > reach) & (r < 1.25 * reach + 1) & (segments == 0)])
    ids = np.array([own], np.int32)
    radius, _ = sep.flux_radius(sky - level, [star["x"]], [star["y"]], [reach], 0.5, segmap=segments, seg_id=ids, subpix=11)
    return radius[0]


def summary(name, stars):
    e = np.array([s["ellipticity"] for s in stars])
    angle = np.radians([s["angle"] for s in stars])
    c, s = np.mean(e * np.cos(2 * angle)), np.mean(e * np.sin(2 * angle))
    fwhm = np.array([s["fwhm"] for s in stars])
    return [
        name,
        len(stars),
        f"{np.median(fwhm):.4f}",
        f"{1.2533 * 1.4826 * np.median(np.abs(fwhm - np.median(fwhm))) / np.sqrt(len(stars)):.4f}",
        f"{np.median(e):.4f}",
        f"{np.hypot(c, s):.4f}",
        f"{np.degrees(0.5 * np.arctan2(s, c)):.2f}",
        f"{np.median([s['beta'] for s in stars]):.3f}",
        f"{np.median([s['chi2'] for s in stars]):.2f}",
    ]


def sources(sky, found, noise, width, shape):
    """sep's sources, windowed positions, half-flux radii; photutils' matched-filter detections."""
    radius, flag = sep.flux_radius(sky, found["x"], found["y"], 6.0 * found["a"], 0.5)
    x, y, _ = sep.winpos(sky, found["x"], found["y"], np.full(len(found), width / 2.3548))
    rows = [
        ["sep", f"{i:.3f}", f"{j:.3f}", f"{o['flux']:.1f}", f"{r:.4f}", f"{o['a']:.4f}", f"{o['b']:.4f}", int(o["flag"] | f)]
        for i, j, o, r, f in zip(x, y, found, radius, flag)
    ]
    # Its filter has the stars' own size and form, so that 5 sigma is the matched
    # filter's (the threshold is scaled by the kernel's noise factor: Stetson 1987,
    # PASP 99, 191); no limits on sharpness and roundness.
    _, _, fwhm, _, _, e, angle = shape[:7]
    table = DAOStarFinder(
        threshold=5 * noise, fwhm=float(fwhm) / np.sqrt(1 - float(e)), ratio=1 - float(e), theta=float(angle) % 180,
        sigma_radius=2.2, sharplo=-np.inf, sharphi=np.inf, roundlo=-np.inf, roundhi=np.inf,
    )(sky)
    table = table[np.isfinite(table["xcentroid"]) & np.isfinite(table["ycentroid"])]
    rows += [["photutils", f"{t['xcentroid']:.3f}", f"{t['ycentroid']:.3f}", f"{t['flux']:.3f}", "", "", "", 0] for t in table]
    return rows, len(table)


if __name__ == "__main__":
    args = reference.options(__doc__)
    folder = os.path.join(args.data, "field-a")
    reference.require(folder)
    made = reference.made_by("numpy", "scipy", "sep", "photutils", "astropy")
    medians, counts = [], []
    for path in sorted(glob.glob(os.path.join(folder, "sub_*.fits.gz"))):
        name = os.path.basename(path)
        image = reference.pixels(path)
        background, sky, found, segments = detect(image)
        stars = fit_stars(image, sky, found, segments, background.globalrms)
        medians.append(summary(name, stars))
        for label, stem in SHOWN.items():
            if not name.startswith(stem):
                continue
            number = stem[-4:]
            columns = ["x", "y", "fwhm", "ellipticity", "angle", "beta", "flux", "snr", "half_flux_radius"]
            rows = [[f"{s[c]:.4f}" if c != "flux" else f"{s[c]:.1f}" for c in columns] for s in stars]
            reference.write_csv(os.path.join(args.out, f"field-a-fits-{number}.csv"), columns, rows, made, [f"the {label} sub, {name}; lengths in px, flux in ADU; half_flux_radius by sep, of the light within three times the typical FWHM above a ring around it, neighbours masked"])
            width = typical_width(found)
            rows, daofind = sources(sky, found, background.globalrms, width, medians[-1])
            columns = ["library", "x", "y", "flux", "half_flux_radius", "a", "b", "flag"]
            reference.write_csv(
                os.path.join(args.out, f"field-a-sources-{number}.csv"), columns, rows, made,
                [f"the {label} sub, {name}; sep: extract at 5 sigma, windowed positions, isophotal flux in ADU, radius of half the flux within 6 a, moments a and b in px",
                 "photutils: DAOStarFinder with an elliptical filter of the stars' size and form, 5 sigma after filtering, flux in its own units"],
            )
            counts.append({"file": name, "label": label, "sep": len(found), "photutils": daofind, "noise_adu": background.globalrms, "sky_adu": background.globalback})
    reference.write_csv(
        os.path.join(args.out, "field-a-moffat.csv"),
        ["file", "n", "fwhm_px", "fwhm_error_px", "ellipticity", "mean_vector_ellipticity", "mean_vector_angle_deg", "beta", "reduced_chi2"],
        medians, made, ["medians over n isolated, unsaturated stars with signal to noise of 50 or more; FWHM is the geometric mean of the axes"],
    )
    reference.write_json(os.path.join(args.out, "field-a-counts.json"), {"subs": counts}, made)
