#!/bin/sh
# Breaks one line at a time and expects the tests to notice:  sh tests/mutation/spot_check.sh
# Works in a copy (build/mutation), never in the clone itself. Exit code 1 where a broken line went unnoticed.
set -eu
program=mutation
root=$(cd "$(dirname "$0")/../.." && pwd -P)
. "$root/.cmake/packages.sh"
copy=$root/build/mutation
jobs=$(job_count)
mkdir -p "$copy/source"
# The copy keeps its times, so that only what was broken is compiled again.
for part in CMakeLists.txt README.md LICENSE .cmake lib cli data tests; do cp -a -u "$root/$part" "$copy/source/"; done
launcher="" generator=""
[ -f "$copy/build/CMakeCache.txt" ] || ! command -v ninja >/dev/null 2>&1 || generator="-G Ninja"
! command -v ccache >/dev/null 2>&1 || launcher=-DCMAKE_CXX_COMPILER_LAUNCHER=ccache
cmake -C "$root/.cmake/check.cmake" -S "$copy/source" -B "$copy/build" -DCMAKE_CXX_FLAGS_RELEASE=-O1 $launcher $generator >/dev/null
unnoticed=0
while IFS=@ read -r file was is programs; do
  case $file in '#'* | '') continue ;; esac
  file=$(echo "$file" | xargs)
  target=$copy/source/$file
  cp -p "$target" "$copy/whole"
  BAGSPLIT_WAS=$was BAGSPLIT_IS=$is python3 - "$target" <<'P' || exit 2
import os, sys
was, now = os.environ["BAGSPLIT_WAS"].strip(), os.environ["BAGSPLIT_IS"].strip()
text = open(sys.argv[1]).read()
if text.count(was) != 1:
    sys.exit(f"{sys.argv[1]}: '{was}' stands there {text.count(was)} times, expected once")
open(sys.argv[1], "w").write(text.replace(was, now))
P
  verdict=UNNOTICED
  for program in $programs; do
    if ! cmake --build "$copy/build" --parallel "$jobs" --target "${program}_test" >"$copy/log" 2>&1; then
      verdict="does not compile"
    elif ! "$(find "$copy/build/tests" -name "${program}_test" -type f)" >"$copy/log" 2>&1; then
      verdict="noticed by $program ($(grep -c '^\[  FAILED  \].*ms)' "$copy/log") tests)"
      break
    fi
  done
  cp "$copy/whole" "$target"
  case $verdict in noticed*) ;; *) unnoticed=1 ;; esac
  printf '%-46s %s\n' "$file" "$verdict"
done <"$root/tests/mutation/mutants.txt"
exit $unnoticed
