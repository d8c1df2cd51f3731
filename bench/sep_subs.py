"""The side that fitsqa is compared with on subs: two processes, astropy and sep.

    sep_subs.py FILE...

Per file: read, background mesh, extraction at 5 sigma, half-flux radius, all
with the library's default settings. Prints one JSON object.
"""

import json
import resource
import sys
import time
from multiprocessing import Pool

import numpy as np
import sep
from astropy.io import fits

sep.set_extract_pixstack(3_000_000)


def measure(path):
    data = fits.getdata(path).astype(np.float32)
    background = sep.Background(data)
    background.subfrom(data)
    objects = sep.extract(data, 5.0, err=background.globalrms)
    radius, _ = sep.flux_radius(data, objects["x"], objects["y"], 6.0 * objects["a"], 0.5)
    return len(objects), float(np.median(radius))


if __name__ == "__main__":
    begin = time.perf_counter()
    with Pool(2) as pool:
        found = pool.map(measure, sys.argv[1:], chunksize=1)
    seconds = time.perf_counter() - begin
    peak = sum(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    print(json.dumps({"seconds": seconds, "peak_kib": peak, "objects": found[0][0], "radius": found[0][1]}))
