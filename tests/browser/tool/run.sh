#!/bin/sh
# bagsplit.html in a browser and the program in it against the command:  sh tests/browser/tool/run.sh [KILLS, 6]
# After cli/page/build.sh and tests/run.sh. Says what cannot be checked here.
set -eu
root=$(cd "$(dirname "$0")/../../.." && pwd -P)
page=$root/build/page
command=${BAGSPLIT_COMMAND:-$root/build/check/cli/bagsplit}
node --no-experimental-fetch "$root/tests/browser/tool/same_answers.mjs" "$page/cli/page/bagsplit_page.js" "$command" "$root"
browser=$(command -v chromium || command -v chromium-browser || true)
if [ -z "$browser" ]; then
  echo "no chromium: the page was not opened" >&2
  exit 0
fi
axe=$root/build/check/node_modules/axe-core/axe.min.js
[ -f "$axe" ] || { echo "no axe-core: readers and contrast were not looked at" >&2; axe=; }
exec node "$root/tests/browser/tool/page_test.mjs" "$page/bagsplit.html" "$command" "$browser" "$axe" "${1:-6}"
