"""The side that fitsqa is compared with on bias frames: numpy's running mean and variance.

    numpy_bias.py FILE...

Welford's recurrence in float32, arrays reused. Prints one JSON object.
"""

import json
import resource
import sys
import time

import numpy as np
from astropy.io import fits

if __name__ == "__main__":
    begin = time.perf_counter()
    mean = None
    for n, path in enumerate(sys.argv[1:], 1):
        frame = fits.getdata(path).astype(np.float32)
        if mean is None:
            mean = np.zeros_like(frame)
            squares = np.zeros_like(frame)
            step = np.empty_like(frame)
        np.subtract(frame, mean, out=step)
        mean += step / np.float32(n)
        squares += step * (frame - mean)
    variance = squares / np.float32(n - 1)
    seconds = time.perf_counter() - begin
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(json.dumps({"seconds": seconds, "peak_kib": peak, "level": float(mean.mean()), "rms": float(np.sqrt(variance.mean()))}))
