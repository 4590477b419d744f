#!/bin/sh
# From a fresh clone to the profile of the demo season:  sh cli/quickstart.sh [more options of `bagsplit profile`]
# Installs what is missing (Debian, with apt), builds in build/quickstart, runs. The answer is on stdout, talk on stderr.
set -eu
program=quickstart
root=$(cd "$(dirname "$0")/.." && pwd -P)
. "$root/.cmake/packages.sh"

need_packages build
build_tree build/quickstart "$(if command -v gzip >/dev/null; then echo bagsplit_manual; else echo bagsplit_pages; fi)" -DCMAKE_BUILD_TYPE=Release -DBAGSPLIT_UNITY=ON -DBAGSPLIT_BUILD_TESTS=OFF -DBAGSPLIT_BUILD_BENCH=OFF
cd "$root"
say "running build/quickstart/cli/bagsplit profile data/demo --roster data/demo/roster.csv"
exec build/quickstart/cli/bagsplit profile data/demo --roster data/demo/roster.csv "$@"
