#!/bin/sh
# bagsplit beside what a sport scientist would use instead, in one run:  sh tests/bench/compare.sh [--write]
# Installs R and Python with SciPy (Debian, with apt), builds in build/bench, prints a table; --write puts it
# into DEVELOPERS.md between its marks. Times are wall clock: run it on a quiet machine.
set -eu
program=compare
root=$(cd "$(dirname "$0")/../.." && pwd -P)
here=$root/tests/bench/compare
. "$root/.cmake/packages.sh"
need_packages test
for package in r-base-core python3-scipy libbenchmark-dev; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q '^install ok installed' || set -- "$@" "+$package"
done
wanted="" write=no
for word in "$@"; do
  case $word in
    --write) write=yes ;;
    +*) wanted="$wanted ${word#+}" ;;
    *) say "wrong word: $word"; exit 2 ;;
  esac
done
if [ -n "$wanted" ]; then
  say "installing with apt:$wanted"
  # shellcheck disable=SC2086
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends $wanted >/dev/null
fi
build_tree build/bench compare_programs -C "$root/.cmake/bench.cmake"
bin=$root/build/bench/tests/bench
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
awk -f "$here/million_rows.awk" >"$work/million.csv"

say "timing ours"
"$bin/compare_ours" "$work/million.csv" >"$work/ours"
say "timing R"
Rscript "$here/others.R" "$work/million.csv" >"$work/r"
say "timing Python (the sampler takes a minute or two)"
/usr/bin/python3 "$here/others.py" "$work/million.csv" >"$work/python"
say "timing wc -l"
python3 - "$work/million.csv" >"$work/wc" <<'WC'
import subprocess, sys, time
def once():
    start = time.perf_counter()
    subprocess.run(["wc", "-l", sys.argv[1]], stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start
s = sorted(once() for _ in range(21))
print("read", "%.6g %.6g %.6g" % (s[10], s[5], s[15]))
WC
python3 "$here/table.py" "$work" >"$work/table"
cat "$work/table"
if [ "$write" = yes ]; then
  awk -v table="$work/table" '
    /<!-- compare: begin/ { print; while ((getline line < table) > 0) print line; hidden = 1 }
    /<!-- compare: end/ { hidden = 0 }
    !hidden { if (!/<!-- compare: begin/) print }' "$root/DEVELOPERS.md" >"$work/DEVELOPERS.md"
  cat "$work/DEVELOPERS.md" >"$root/DEVELOPERS.md"
  say "DEVELOPERS.md holds the table"
fi
