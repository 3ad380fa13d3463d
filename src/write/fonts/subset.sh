#!/usr/bin/env bash
# Makes the two fonts of this folder anew. Needs fontTools 4.68.0 (PyPI `fonttools`) and DejaVu 2.37, whose files lie in
# the folder that is given: ./subset.sh /usr/share/fonts/truetype/dejavu
set -euo pipefail
from=${1:?folder of DejaVuSansCondensed.ttf}
cd "$(dirname "$0")"

# ASCII, Latin-1, Latin Extended-A; Romanian; Greek; Cyrillic; dashes, quotes, dots, primes, fraction slash; euro, numero,
# ohm; vulgar fractions; arrows; mathematical signs; diameter; the box in place of what is missing.
chars=U+0020-007E,U+00A0-017F,U+0218-021B,U+0370-03FF,U+0400-045F,U+0490-0491,U+2010-2015,U+2018-201E,U+2020-2022
chars+=,U+2026,U+2030,U+2032-2033,U+2039-203A,U+2044,U+2074-2079,U+2080-2089,U+20AC,U+2116,U+2122,U+2126,U+2150-215F
chars+=,U+2190-2199,U+2205-2206,U+2211-2212,U+2215,U+221A,U+221E,U+2220,U+2248,U+2260,U+2264-2265,U+2300,U+25A1,U+2713
chars+=,U+2715,U+FFFD

# No hinting: it serves screens of a hundred dots an inch, and is half of the file. No kerning or ligatures: a text is as
# wide as its advances. Time stamps stay those of the original.
for face in DejaVuSansCondensed DejaVuSansCondensed-Bold; do
    pyftsubset "$from/$face.ttf" --output-file="$face.ttf" --unicodes="$chars" \
        --no-hinting --layout-features= --drop-tables+=FFTM,GDEF,GPOS,GSUB,MATH,gasp,kern --notdef-outline \
        --name-IDs='*' --name-languages=0x409 --no-recalc-timestamp
done
