#!/usr/bin/env bash
# Computes the reference values again with general-purpose libraries, compares
# them with the committed ones, and holds fitsqa's own output to them.
#
#   PYTHON   interpreter that has astropy, photutils, scipy and sep (Debian: /usr/bin/python3)
#   FITSQA   program to check (default bin/fitsqa, as `make build` leaves it)
#   DATA     folder of real frames (default ../shared/data); what needs them is skipped without
#
# Only reads the frames; all it writes goes to a temporary folder.
set -euo pipefail
cd "$(dirname "$0")/.."
PYTHON=${PYTHON:-/usr/bin/python3}
export FITSQA=${FITSQA:-$PWD/bin/fitsqa}
export DATA=${DATA:-$PWD/../shared/data}
export PYTHONDONTWRITEBYTECODE=1

if ! "$PYTHON" -c 'import astropy, photutils, scipy, sep' 2>/dev/null; then
	echo "crosscheck: $PYTHON lacks astropy, photutils, scipy or sep; install Debian's python3-astropy python3-photutils python3-scipy python3-sep, or set PYTHON" >&2
	exit 1
fi

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

echo "== reference values, computed again"
mkdir "$work/reference"
for script in robust sky plate nights camera_b field_a field_a_light formats; do
	code=0
	"$PYTHON" "crosscheck/$script.py" --out "$work/reference" --data "$DATA" || code=$?
	if [ "$code" != 0 ] && [ "$code" != 77 ]; then
		echo "crosscheck: $script.py failed" >&2
		exit 1
	fi
done
"$PYTHON" crosscheck/compare.py "$work/reference" testdata/reference

echo "== fitsqa against the reference values"
go test -count=1 ./internal/stats/ ./internal/sky/ ./internal/plate/ ./internal/ahead/ -run Reference
go test -count=1 ./internal/frames/ -run Astropy
crosscheck/fpack.sh
go test -count=1 -v ./crosscheck/ | grep -v '^=== '
echo "crosscheck: all agree"
