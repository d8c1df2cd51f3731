"""What astropy reads out of files of odd formats: formats.csv.

The first unit of each file that is an image of two axes (or of three planes of
two), its size, and minimum, maximum, mean and number of NaN of its physical
samples. Files in which astropy finds no such image, and those it cannot
unpack, are left out. Infinite samples count as NaN.
"""

import glob
import gzip
import io
import os
import warnings

import numpy as np
from astropy.io import fits

import reference

FOLDER = os.path.join(reference.ROOT, "testdata", "fits", "formats")


def first_image(path):
    with open(path, "rb") as f:
        content = f.read()
    if path.endswith(".gz"):
        content = gzip.decompress(content)
    with fits.open(io.BytesIO(content)) as hdus:
        for hdu in hdus:
            if isinstance(hdu, (fits.BinTableHDU, fits.TableHDU)) and not isinstance(hdu, fits.CompImageHDU):
                continue
            if isinstance(hdu, fits.GroupsHDU) or hdu.data is None:
                continue
            shape = hdu.data.shape
            if hdu.data.size and (len(shape) == 2 or len(shape) == 3 and shape[0] == 3):
                return np.array(hdu.data, dtype=np.float64)
    return None


if __name__ == "__main__":
    args = reference.options(__doc__)
    rows = []
    warnings.simplefilter("ignore")
    for path in sorted(glob.glob(os.path.join(FOLDER, "*.fit*"))):
        name = os.path.basename(path)
        try:
            data = first_image(path)
        except Exception as problem:
            print(f"{name}: astropy: {problem}")
            continue
        if data is None:
            continue
        data[~np.isfinite(data)] = np.nan
        shape = (1,) * (3 - data.ndim) + data.shape
        empty = np.isnan(data).all()
        figures = ["", "", ""] if empty else [repr(float(f(data))) for f in (np.nanmin, np.nanmax, np.nanmean)]
        rows.append([name, shape[2], shape[1], shape[0], *figures, int(np.isnan(data).sum())])
    reference.write_csv(
        os.path.join(args.out, "formats.csv"),
        ["file", "width", "height", "planes", "min", "max", "mean", "nan"],
        rows,
        reference.made_by("numpy", "astropy"),
        ["physical samples of the first image; BZERO applied as the header says, also to floating-point samples"],
    )
