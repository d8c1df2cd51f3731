"""Compares reference values computed just now with the committed ones.

    compare.py NEW COMMITTED

Both are folders as the reference scripts write them. Numbers may differ as far
as TOLERANCE says, texts and the versions in the headers not at all and freely.
Exits with 1 when anything differs by more.
"""

import csv
import json
import math
import os
import sys

# Relative and absolute. Same arithmetic, other processor: rounding only.
DEFAULT = (1e-9, 1e-9)
TOLERANCE = {
    # Positions move with the Earth-orientation table at hand: 0.9 s of UT1-UTC is 0.004 degrees.
    "sky.json": (0, 0.005),
    "nights.json": (0, 0.005),
    # A least-squares search stops within its own tolerance, and stars at a selection limit may swap.
    "field-a-moffat.csv": (0.005, 0.005),
    "field-a-light.csv": (0, 0.001),
    "field-a-fits": (0.005, 0.02),
    "field-a-sources": (0.001, 0.002),
}


def tolerance(name):
    for prefix, value in TOLERANCE.items():
        if name.startswith(prefix):
            return value
    return DEFAULT


def flat(path):
    """Every value of a file under a name that tells its place."""
    if path.endswith(".json"):
        with open(path, encoding="utf-8") as f:
            content = json.load(f)
        content.pop("made_by", None)
        yield from walk("", content)
        return
    with open(path, encoding="utf-8") as f:
        rows = list(csv.reader(line for line in f if not line.startswith("#")))
    for n, row in enumerate(rows[1:], 1):
        for column, value in zip(rows[0], row):
            yield f"row {n} {column}", number(value)


def walk(place, value):
    if isinstance(value, dict):
        for k, v in value.items():
            yield from walk(f"{place}/{k}", v)
    elif isinstance(value, list):
        for i, v in enumerate(value):
            yield from walk(f"{place}[{i}]", v)
    else:
        yield place, value


def number(text):
    try:
        return float(text)
    except ValueError:
        return text


def same(a, b, relative, absolute):
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return math.isclose(a, b, rel_tol=relative, abs_tol=absolute)
    return a == b


def main(new, committed):
    bad = 0
    for name in sorted(os.listdir(new)):
        ours, theirs = dict(flat(os.path.join(committed, name))), dict(flat(os.path.join(new, name)))
        relative, absolute = tolerance(name)
        differing = [k for k in ours.keys() | theirs.keys() if k not in ours or k not in theirs or not same(ours[k], theirs[k], relative, absolute)]
        for k in sorted(differing)[:10]:
            print(f"{name} {k}: committed {ours.get(k)}, now {theirs.get(k)}")
        print(f"{name}: {len(theirs)} values, {len(differing)} differ")
        bad += len(differing)
    return bad


if __name__ == "__main__":
    sys.exit(1 if main(sys.argv[1], sys.argv[2]) else 0)
