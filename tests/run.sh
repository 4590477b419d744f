#!/bin/sh
# Every test from a fresh clone:  sh tests/run.sh [arguments for ctest, such as -L quick or -R cli]
# Installs what is missing (Debian, with apt), builds in build/check (optimised, assertions on), runs ctest.
set -eu
program=tests
root=$(cd "$(dirname "$0")/.." && pwd -P)
. "$root/.cmake/packages.sh"

need_packages test
# Strict only where the compiler is known: a warning of a newer one should not keep a user from running the tests.
case ${CI:-} in '' | 0 | false) strict=OFF ;; *) strict=ON ;; esac
build_tree build/check all -C "$root/.cmake/check.cmake" -DBAGSPLIT_WERROR=$strict -DBAGSPLIT_UNITY=ON
say "running ctest"
exec ctest --test-dir "$root/build/check" --output-on-failure --no-tests=error --parallel "$(job_count)" "$@"
