#!/bin/sh
# The same commit built at two places gives the same bytes:  sh tests/package/reproducible.sh [arguments for cmake]
# Clones this clone twice, to paths of different lengths, builds library and command as cli/quickstart.sh does, compares. Some minutes.
set -eu
program=reproducible
root=$(cd "$(dirname "$0")/../.." && pwd -P)
. "$root/.cmake/packages.sh"
need_packages build
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
for place in "$work/a" "$work/another/place/with a longer name"; do
  git clone -q "$root" "$place"
  (
    root=$place
    build_tree build/quickstart bagsplit_cli -DCMAKE_BUILD_TYPE=Release -DBAGSPLIT_UNITY=ON -DBAGSPLIT_BUILD_TESTS=OFF "$@"
  )
done
for file in lib/libbagsplit.a cli/bagsplit; do
  cmp "$work/a/build/quickstart/$file" "$work/another/place/with a longer name/build/quickstart/$file"
  sha256sum "$work/a/build/quickstart/$file" | sed "s|  .*|  $file|"
done
say "the same bytes from both places"
