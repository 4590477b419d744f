#!/bin/sh
# The pictures in README are of the demo's pages:  sh tests/docs/pictures.sh make|check PROGRAM
# make: draws them anew (needs Chromium).  check: fails where a page is no longer the one its picture was taken of,
# told by the SHA-256 beside it; digits that only programs read are left out, for they may differ between compilers.
set -eu
what=$1
program=$(realpath "$2")
here=$(cd "$(dirname "$0")" && pwd)
demo=$(realpath "$here/../../data/demo")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"

page() { # NAME WIDTH,HEIGHT OPTION...
  name=$1 size=$2
  shift 2
  "$program" report "$demo" "$@" -o "$name.html" 2>/dev/null
  sum=$(sed 's/ value="[^"]*"//g' "$name.html" | sha256sum | cut -d ' ' -f 1)
  if [ "$what" = make ]; then
    chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking \
      --disable-component-update --disable-sync --disable-dev-shm-usage --hide-scrollbars --user-data-dir="$work/browser" \
      --window-size="$size" --screenshot="$name.png" "file://$work/$name.html" >log 2>&1 || { cat log >&2; exit 1; }
    cp "$name.png" "$here/pictures/$name.png"
    echo "$sum" >"$here/pictures/$name.sha256"
  elif [ "$(cat "$here/pictures/$name.sha256")" != "$sum" ] || [ ! -s "$here/pictures/$name.png" ]; then
    echo "pictures/$name.png is of another page than the demo's: sh tests/docs/pictures.sh make PROGRAM, and look at it" >&2
    exit 1
  fi
}

page squad 800,840
page child 820,1000 --player 12
