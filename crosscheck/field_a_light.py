"""Real star field, 18 subs: how much of the light of one sub each of the others holds.

field-a-light.csv    one row a sub: its light a second, of that of the reference sub

The reference sub, convolved with a kernel of free values, is fitted to each other sub, with
a plane for the sky, by weighted least squares over all pixels that are not full: the
kernel's sum is the ratio of the light (Alard and Lupton 1998, ApJ 503, 325; the kernel of
single pixels after Bramich 2008, MNRAS 386, L77). No star is detected, no profile assumed,
and crowding does not matter, since each neighbour is in both.
"""

import glob
import os

import numpy as np
from scipy.ndimage import binary_dilation
from astropy.io import fits

import reference

REFERENCE = "sub_0103.fits.gz"  # one of the sharpest, beside five others of its night
RADIUS = 12  # of the kernel, px: four sigma of the broadest, 8.4 px against 3.7
FULL = 45000  # ADU, from which pixels are left out


def shift(a, b):
    """Whole pixels by which b is shifted against a: the peak of their correlation."""
    flat = [np.fft.rfft2(np.log(np.maximum(p - np.median(p), 1))) for p in (a, b)]
    peak = np.fft.irfft2(np.conj(flat[0]) * flat[1], a.shape)
    at = np.unravel_index(np.argmax(peak), a.shape)
    return [int(k - n if k > n // 2 else k) for k, n in zip(at, a.shape)]


def light(ref, sub):
    """The sum of the kernel that makes sub of ref."""
    dy, dx = shift(ref, sub)
    edge = RADIUS + max(abs(dx), abs(dy))
    y, x = np.mgrid[edge : ref.shape[0] - edge, edge : ref.shape[1] - edge]
    full = binary_dilation(ref > FULL, iterations=RADIUS)
    used = ~full[y, x] & (sub[y + dy, x + dx] < FULL) & ((x + y) % 2 == 0)  # every other tells enough
    y, x = y[used], x[used]
    level = ref - np.median(ref)
    span = range(-RADIUS, RADIUS + 1)
    cells = [(j, i) for j in span for i in span if i * i + j * j <= RADIUS * RADIUS]
    terms = len(cells) + 3
    matrix, right = np.zeros((terms, terms)), np.zeros(terms)
    for part in np.array_split(np.arange(len(x)), 16):
        v, u = y[part], x[part]
        values = sub[v + dy, u + dx]
        weight = 1 / np.sqrt(np.maximum(values, 1))
        rows = np.stack([level[v + j, u + i] for j, i in cells] + [np.ones(len(u)), u / 256 - 1, v / 256 - 1])
        rows *= weight
        matrix += rows @ rows.T
        right += rows @ (values * weight)
    kernel = np.linalg.solve(matrix + 1e-12 * np.trace(matrix) / terms * np.eye(terms), right)
    return kernel[: len(cells)].sum()


if __name__ == "__main__":
    args = reference.options(__doc__)
    folder = os.path.join(args.data, "field-a")
    reference.require(folder)

    def load(name):
        with fits.open(os.path.join(folder, name)) as hdus:
            return hdus[0].data.astype(float), float(hdus[0].header["EXPTIME"])

    ref, exposure = load(REFERENCE)
    rows = []
    for path in sorted(glob.glob(os.path.join(folder, "sub_*.fits.gz"))):
        name = os.path.basename(path)
        sub, seconds = load(name)
        rows.append([name, f"{light(ref, sub) * exposure / seconds:.4f}"])
    reference.write_csv(
        os.path.join(args.out, "field-a-light.csv"), ["file", "light"], rows, reference.made_by("numpy", "scipy", "astropy"),
        [f"light a second, of that of {REFERENCE}: sum of the kernel that makes the one of the other"])
