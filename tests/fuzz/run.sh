#!/bin/sh
# Fuzzes each reader for so many seconds:  sh tests/fuzz/run.sh [SECONDS, 60 each] [READER...]
# Needs clang with its runtime (Debian: clang libclang-rt-14-dev). Twice as many at once as there are cores (or as CMAKE_BUILD_PARALLEL_LEVEL
# says), so on a busy machine each gets half of its seconds.
# Findings lie in build/fuzz/findings; exit code 1 where there are any.
set -eu
program=fuzz
root=$(cd "$(dirname "$0")/../.." && pwd -P)
. "$root/.cmake/packages.sh"
seconds=${1:-60}
[ $# -eq 0 ] || shift
[ $# -gt 0 ] || set -- run_log roster gate_log course device model record_session
tree=$root/build/fuzz
build_tree build/fuzz fuzz_targets -C "$root/.cmake/fuzz.cmake" -DBAGSPLIT_UNITY=ON
mkdir -p "$tree/findings"
at_once=$((2 * $(job_count)))

fuzz_one() {
  reader=$1
  : >"$tree/unfinished-$reader"  # until it is done without a finding, whatever ends it
  corpus=$tree/corpus/$reader
  mkdir -p "$corpus"
  case $reader in
    run_log | roster | gate_log) find "$root/tests/runs/problems" "$root/data/demo" -name '*.csv' -size -40k -exec cp {} "$corpus" \; ;;
    course) find "$root/tests/runs/problems" -name '*.courses.json' -exec cp {} "$corpus" \; ;;
    device | model) find "$root/data/devices" "$root/data/models" -name '*.json' -size -40k -exec cp {} "$corpus" \; ;;
  esac
  [ ! -d "$root/tests/fuzz/seeds/$reader" ] || cp "$root/tests/fuzz/seeds/$reader/"* "$corpus"
  log=$tree/$reader.log
  if "$tree/tests/fuzz/fuzz_$reader" -max_total_time="$seconds" -seed=20261128 -timeout=10 -rss_limit_mb=2000 -max_len=8192 \
    -artifact_prefix="$tree/findings/$reader-" "$corpus" >"$log" 2>&1; then
    printf '%-15s %s\n' "$reader" "$(grep '^Done' "$log") $(grep -o 'DONE *cov: [0-9]*' "$log" | sed 's/DONE *//')"
    rm "$tree/unfinished-$reader"
  else
    printf '%-15s FOUND something: %s\n' "$reader" "$log"
  fi
}

say "$seconds s for each of: $*"
rm -f "$tree"/unfinished-*
running=0
for reader in "$@"; do
  fuzz_one "$reader" &
  running=$((running + 1))
  if [ "$running" -ge "$at_once" ]; then
    wait
    running=0
  fi
done
wait
set -- "$tree"/unfinished-*
[ ! -e "$1" ]
