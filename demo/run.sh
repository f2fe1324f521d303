#!/bin/sh
# The main job, from nothing: installs Ortet beside this demo and replays two seasons of an invented
# nursery. Needs Python 3.11 or newer; everything it makes is in .demo/.
set -eu
cd "$(dirname "$0")/.."

python=${PYTHON:-python3}
"$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
    echo "Python 3.11 or newer is needed; name it with PYTHON=/path/to/python3.12" >&2
    exit 2
}

home=.demo
venv=$home/venv
mkdir -p "$home"
[ -x "$venv/bin/python" ] || "$python" -m venv "$venv"
echo "Installing ..."
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check '.[photos]'
ortet=$venv/bin/ortet

rm -f "$home"/registry.sqlite* "$home"/*.pdf "$home"/*.txt
ORTET_REGISTRY=$home/registry.sqlite
export ORTET_REGISTRY

echo
echo "== Two seasons at Hollow Lane"
"$ortet" init --grower "June Alder" --country US --region US-OR --began 2024-03-01
"$ortet" restriction import demo/restrictions.csv
"$ortet" bench demo/2024-season.txt
"$ortet" bench demo/2025-season.txt

echo
echo "== Labels"
"$ortet" label print NAN24 --out "$home/card.pdf"
"$ortet" label print NAN24 OWN25 GARDEN24 APPLE-P-1 --out "$home/pots.pdf"

echo
echo "== Where does this pot come from?"
"$ortet" trace NAN25-P-2 --up

echo
echo "== May it be sold?"
"$ortet" may sell NAN25-P-2 && exit 1
echo
echo "== And a fuchsia raised from the grower's own plant?"
"$ortet" may sell OWN25-P-2

echo
echo "== The tally of 2025"
"$ortet" tally --year 2025

echo
echo "== A stock plant is sick: everything exposed, why, and where it is"
"$ortet" recall start OWN-1 --reason "brown rot at the neck of the stock plant" --hold
"$ortet" recall export 1 "$home/worklist.pdf"
"$ortet" recall export 1 "$home/notices.txt"
"$ortet" bench demo/2025-recall.txt
"$ortet" recall close 1 --finding "the stock plant alone was sick" --lift --on "20 November 2025"

here=$(pwd)
echo
echo "The labels are in $here/$home/card.pdf and $here/$home/pots.pdf,"
echo "the recall's worklist in $here/$home/worklist.pdf, its notices in $here/$home/notices.txt"
echo "To have the command 'ortet' in this terminal:"
echo "  export PATH=\"$here/$venv/bin:\$PATH\""
echo "and to ask the demo's registry something, such as:"
echo "  ortet --registry \"$here/$home/registry.sqlite\" may sell NAN25-P-2"
