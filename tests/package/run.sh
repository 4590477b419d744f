#!/bin/sh
# The packages as a user gets them:  sh tests/package/run.sh [TREE, build/check]
# Packs a built tree with cpack, installs the .deb into a scratch root and unpacks the tarball beside it, runs the main job from both
# and removes the package again. Debian only (dpkg).
set -eu
program=package
root=$(cd "$(dirname "$0")/../.." && pwd -P)
. "$root/.cmake/packages.sh"
tree=$root/${1:-build/check}
fail() { say "$*"; exit 1; }
command -v dpkg-shlibdeps >/dev/null || fail "dpkg-shlibdeps is missing (Debian: dpkg-dev)"
[ -x "$tree/cli/bagsplit" ] || fail "$tree holds no built bagsplit"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Twice, with the dates of all files as of the commit: the same bytes are wanted.
SOURCE_DATE_EPOCH=$(git -C "$root" log -1 --format=%ct 2>/dev/null || echo 1700000000)
export SOURCE_DATE_EPOCH
pack() {
  mkdir "$1"
  (cd "$1" && cpack --config "$tree/CPackConfig.cmake" >cpack.log 2>&1) || { cat "$1/cpack.log" >&2; fail "cpack failed"; }
}
pack "$work/again"
pack "$work/packed"
for file in "$work"/packed/bagsplit*; do
  cmp -s "$file" "$work/again/$(basename "$file")" || fail "packed twice, $(basename "$file") is not the same"
done
deb=$(echo "$work"/packed/bagsplit_*.deb)
dev=$(echo "$work"/packed/libbagsplit-dev_*.deb)
[ -f "$deb" ] && [ -f "$dev" ] || fail "cpack did not make two packages, the command and libbagsplit-dev"
for one in "$deb" "$dev"; do
  dpkg-deb -f "$one" Maintainer | grep -q '^The bagsplit maintainers <' || fail "$one: Maintainer is $(dpkg-deb -f "$one" Maintainer)"
  dpkg-deb -f "$one" Description | sed 1d | grep -q . || fail "$one: no long description"
done
if dpkg-deb -c "$deb" | grep -qE '/include/|\.a$|/cmake/'; then fail "$deb holds what belongs into libbagsplit-dev"; fi
if command -v lintian >/dev/null; then
  lintian --allow-root --tag-display-limit 0 "$deb" "$dev" >"$work/lintian.txt" 2>&1 || true
  if grep '^E:' "$work/lintian.txt" >&2; then fail "lintian finds errors"; fi
else
  say "no lintian here: what it would say is not known"
fi
set -- "$work"/packed/*.tar.gz
[ $# -eq 1 ] && [ -f "$1" ] || fail "cpack made no tarball, or several"
tarball=$1

version=$("$tree/cli/bagsplit" --version | sed -n '1s/^bagsplit \([0-9.]*\).*/\1/p')
[ "$(dpkg-deb -f "$deb" Version)" = "$version" ] || fail "the package is of version $(dpkg-deb -f "$deb" Version), the command of $version"

installed=$work/installed
mkdir -p "$installed/var/lib/dpkg/info" "$installed/var/lib/dpkg/updates" "$installed/var/lib/dpkg/triggers"
: >"$installed/var/lib/dpkg/status"
# What it depends on is on this machine, not in the scratch root.
scratch_dpkg() { dpkg --root="$installed" --force-not-root --force-depends --force-script-chrootless --log=/dev/null "$@" >"$work/dpkg.log" 2>&1 || { cat "$work/dpkg.log" >&2; fail "dpkg $1 failed"; }; }
scratch_dpkg --install "$deb" "$dev"

unpacked=$work/unpacked
mkdir "$unpacked"
tar -xzf "$tarball" -C "$unpacked"
set -- "$unpacked"/*
unpacked=$1/usr

"$tree/cli/bagsplit" profile "$root/data/demo" --format csv >"$work/expected" 2>/dev/null
for prefix in "$installed/usr" "$unpacked"; do
  "$prefix/bin/bagsplit" profile "$prefix/share/bagsplit/demo" --format csv >"$work/got" 2>/dev/null || fail "$prefix: profile failed"
  cmp -s "$work/expected" "$work/got" || fail "$prefix: the demo season gives something else than in the tree"
  for page in share/man/man1/bagsplit.1.gz share/bash-completion/completions/bagsplit share/zsh/vendor-completions/_bagsplit \
    share/fish/vendor_completions.d/bagsplit.fish pkgconfig/bagsplit.pc share/doc/bagsplit/copyright share/doc/bagsplit/changelog.gz share/doc/bagsplit/jobs.md; do
    find "$prefix" -path "*/$page" -size +0 | grep -q . || fail "$prefix: no $page"
  done
  # Each file that a page of help names is there.
  "$prefix/bin/bagsplit" --man | grep -oE '[a-z./-]*[a-z]\.(schema\.json|md)\b' | sort -u | while read -r named; do
    [ -f "$prefix/share/bagsplit/$named" ] || [ -f "$prefix/share/doc/bagsplit/$named" ] || echo "$named"
  done >"$work/unknown"
  [ ! -s "$work/unknown" ] || fail "$prefix: help names files that are not there: $(tr '\n' ' ' <"$work/unknown")"
  # Nothing in it may name the place where it was built.
  if found=$(grep -rlF "$root" "$prefix"); then fail "these name the place they were built in: $found"; fi
done

scratch_dpkg --remove libbagsplit-dev bagsplit
if left=$(find "$installed/usr" -type f 2>/dev/null | grep .); then fail "left behind: $left"; fi
say "$(basename "$deb") and $(basename "$tarball"): the same when packed twice; installed, run, removed"
