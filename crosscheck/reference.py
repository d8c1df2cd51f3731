"""What the reference scripts share: options, versions, and the files they write.

Every script computes values with general-purpose libraries only and writes them
into --out (default: the committed folder testdata/reference). The Go tests hold
fitsqa to these files; run.sh computes them again and compares.
"""

import argparse
import csv
import gzip
import importlib
import json
import os
import platform
import sys

import numpy as np
from astropy.io import fits

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(HERE)


def options(description):
    """The two options of every script."""
    ap = argparse.ArgumentParser(description=description)
    ap.add_argument("--out", default=os.path.join(ROOT, "testdata", "reference"), help="folder to write into")
    ap.add_argument("--data", default=os.path.join(ROOT, "..", "shared", "data"), help="folder of real frames")
    args = ap.parse_args()
    os.makedirs(args.out, exist_ok=True)
    return args


def require(folder):
    """Ends the script quietly (exit code 77: skipped) where the real frames are not at hand."""
    if not os.path.isdir(folder):
        print(f"skipped: real frames are not at hand ({os.path.relpath(folder, ROOT)})")
        sys.exit(77)


def made_by(*libraries):
    """The script and the versions that made a file, for its header."""
    versions = {"python": platform.python_version()}
    for name in libraries:
        versions[name] = importlib.import_module(name).__version__
    return {"script": "crosscheck/" + os.path.basename(sys.argv[0]), **versions}


def write_json(path, values, made):
    """One line an entry, and one line a case where an entry is a list of cases."""
    def line(v):
        return json.dumps(v, allow_nan=False)

    entries = []
    for key, value in {"made_by": made, **values}.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            entries.append(f"{line(key)}: [\n" + ",\n".join("  " + line(v) for v in value) + "\n ]")
        else:
            entries.append(f"{line(key)}: {line(value)}")
    with open(path, "w", encoding="utf-8") as f:
        f.write("{\n " + ",\n ".join(entries) + "\n}\n")
    print("wrote", os.path.basename(path))


def write_csv(path, columns, rows, made, remarks=()):
    """Rows as CSV under comment lines that begin with '#'."""
    with open(path, "w", encoding="utf-8", newline="") as f:
        f.write("# made by " + ", ".join(f"{k} {v}" for k, v in made.items()) + "\n")
        for remark in remarks:
            f.write(f"# {remark}\n")
        w = csv.writer(f, lineterminator="\n")
        w.writerow(columns)
        w.writerows(rows)
    print("wrote", os.path.basename(path))


def pixels(path):
    """First image of a FITS file as float64, physical units."""
    opener = gzip.open if path.endswith(".gz") else open
    with opener(path, "rb") as f, fits.open(f) as hdus:
        return np.ascontiguousarray(hdus[0].data, dtype=np.float64)
