#!/bin/sh
# Fuzzes each reader for so many seconds:  sh tests/fuzz/run.sh [SECONDS, 60 each] [READER...]
# Needs clang with its runtime (Debian: clang libclang-rt-dev). Findings lie in build/fuzz/findings; exit code 1 where there are any.
set -eu
root=$(cd "$(dirname "$0")/../.." && pwd -P)
seconds=${1:-60}
[ $# -eq 0 ] || shift
[ $# -gt 0 ] || set -- run_log roster gate_log course device model record_session
tree=$root/build/fuzz
cmake -C "$root/.cmake/fuzz.cmake" -S "$root" -B "$tree" >/dev/null
mkdir -p "$tree/findings"
failed=0
for reader in "$@"; do
  cmake --build "$tree" --target "fuzz_$reader" --parallel >/dev/null
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
    printf '%-15s %s\n' "$reader" "$(grep -o '^#[0-9]* *DONE.*' "$log" || tail -n 1 "$log")"
  else
    failed=1
    printf '%-15s FOUND something: %s\n' "$reader" "$log"
  fi
done
exit $failed
