#!/bin/sh
# From a fresh clone to the whole tool as one file for a browser:  sh cli/page/build.sh
# Installs what is missing (Debian, with apt), builds build/page/bagsplit.html and names it on stdout; talk on stderr.
set -eu
program=page
root=$(cd "$(dirname "$0")/../.." && pwd -P)
. "$root/.cmake/packages.sh"

need_packages page
toolchain=$(em-config EMSCRIPTEN_ROOT)/cmake/Modules/Platform/Emscripten.cmake
build_tree build/page bagsplit_html -DCMAKE_TOOLCHAIN_FILE="$toolchain" -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE=-O1 \
  -DBAGSPLIT_PAGE=ON -DBAGSPLIT_UNITY=ON -DBAGSPLIT_BUILD_TESTS=OFF -DBAGSPLIT_INSTALL=OFF
echo "$root/build/page/bagsplit.html"
