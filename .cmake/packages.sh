# shellcheck shell=sh disable=SC2154
# Read by cli/quickstart.sh, cli/page/build.sh and tests/run.sh (POSIX sh): finds what this machine lacks, installs it where it may, builds.
# Both set `program` (for messages) and `root` (top of the clone) first. Talk goes to stderr.

say() { printf '%s: %s\n' "$program" "$*" >&2; }

# What is missing, one word a line.  $1: build, page or test
missing() {
  compiler=${CXX:-}
  for candidate in c++ g++ clang++; do
    [ -n "$compiler" ] || ! command -v "$candidate" >/dev/null 2>&1 || compiler=$candidate
  done
  # The compiler itself is asked which headers it can see, so libraries that did not come from a package count as well.
  # CXX may hold a launcher or flags, so it is split into words.
  # shellcheck disable=SC2086
  if [ -z "$compiler" ] || ! headers=$($compiler -x c++ -std=c++20 -E -P - 2>/dev/null <<'PROBE'
#include <version>
#if __cplusplus < 202002L || !defined(__cpp_lib_to_chars) || !defined(__cpp_lib_jthread)
missing:compiler
#endif
#if !__has_include(<Eigen/Core>) && !__has_include(<eigen3/Eigen/Core>)
missing:eigen
#endif
#if !__has_include(<boost/math/special_functions.hpp>) || !__has_include(<boost/random.hpp>)
missing:boost
#endif
#if !__has_include(<nlohmann/json.hpp>)
missing:json
#endif
#if !__has_include(<CLI/CLI.hpp>)
missing:cli11
#endif
#if !__has_include(<gtest/gtest.h>)
missing:googletest
#endif
PROBE
  ); then
    # Without a compiler nothing can be asked: take the package manager's word for the libraries.
    headers="missing:compiler"
    for word in eigen boost json cli11 googletest; do
      dpkg-query -W -f='${Status}' "$(debian_name "$word")" 2>/dev/null | grep -q '^install ok installed' ||
        headers="$headers missing:$word"
    done
  fi
  for word in $headers; do
    case $word in
      missing:googletest) [ "$1" != test ] || echo googletest ;;
      missing:*) echo "${word#missing:}" ;;
    esac
  done
  cmake_at_least 3 25 || echo cmake
  command -v ninja >/dev/null 2>&1 || command -v make >/dev/null 2>&1 || echo generator
  [ "$1" != page ] || { command -v em++ && command -v node; } >/dev/null 2>&1 || echo emscripten
}

cmake_at_least() {
  cmake --version 2>/dev/null | sed -n 's/^cmake version \([0-9]*\)\.\([0-9]*\).*/\1 \2/p' | {
    read -r major minor && { [ "$major" -gt "$1" ] || { [ "$major" -eq "$1" ] && [ "$minor" -ge "$2" ]; }; }
  }
}

debian_name() {
  case $1 in
    compiler) echo g++ ;;
    cmake) echo cmake ;;
    generator) echo ninja-build ;;
    eigen) echo libeigen3-dev ;;
    boost) echo libboost-dev ;;
    json) echo nlohmann-json3-dev ;;
    cli11) echo libcli11-dev ;;
    googletest) echo libgtest-dev ;;
    emscripten) echo emscripten ;;
  esac
}

generic_name() {
  case $1 in
    compiler) echo "a C++20 compiler, such as g++ >= 12" ;;
    cmake) echo "CMake >= 3.25" ;;
    generator) echo "ninja >= 1.10, or make" ;;
    eigen) echo "Eigen >= 3.4 (headers)" ;;
    boost) echo "Boost >= 1.74 (headers: Math, Random)" ;;
    json) echo "nlohmann_json >= 3.11 (headers)" ;;
    cli11) echo "CLI11 >= 2.1 (headers)" ;;
    googletest) echo "GoogleTest >= 1.12" ;;
    emscripten) echo "emscripten >= 3.1.6, node" ;;
  esac
}

as_root() {
  if [ "$(id -u)" -eq 0 ]; then "$@"; else sudo "$@"; fi
}

# Why nothing can be installed here; empty when it can.
hindrance() {
  if ! command -v apt-get >/dev/null 2>&1; then
    echo "there is no apt-get here"
  elif [ "$(id -u)" -ne 0 ] && ! command -v sudo >/dev/null 2>&1; then
    echo "not root, and there is no sudo"
  elif [ "$(id -u)" -ne 0 ] && ! sudo -n true 2>/dev/null && [ ! -t 0 ]; then
    echo "not root, and sudo wants a password but there is no terminal to ask on"
  fi
}

# Names every missing thing and ends the script.  $1: why; the rest: words
give_up() {
  say "missing on this machine ($1):"
  shift
  packages=""
  printf '  %-20s %s\n' "Debian package" "elsewhere" >&2
  for word in "$@"; do
    printf '  %-20s %s\n' "$(debian_name "$word")" "$(generic_name "$word")" >&2
    packages="$packages $(debian_name "$word")"
  done
  say "on Debian 12, as root: apt-get install$packages"
  exit 1
}

# Everything for building (and testing) is here afterwards, or the script has ended.  $1: build, page or test
need_packages() {
  words=$(missing "$1")
  if [ -z "$words" ]; then
    say "every package needed is here"
    return
  fi
  reason=$(hindrance)
  # shellcheck disable=SC2086
  [ -z "$reason" ] || give_up "$reason" $words
  packages=""
  for word in $words; do packages="$packages $(debian_name "$word")"; done
  say "installing with apt:$packages"
  apt_log=$(mktemp)
  # shellcheck disable=SC2086
  {
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 update ||
      { sleep 5 && as_root env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 update; } ||
      echo "apt-get update failed twice; trying with the lists that are here"
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 \
      install -y --no-install-recommends $packages
  } </dev/null >"$apt_log" 2>&1 || { cat "$apt_log" >&2; say "apt-get could not install everything"; }
  rm -f "$apt_log"
  words=$(missing "$1")
  # shellcheck disable=SC2086
  [ -z "$words" ] || give_up "apt-get did not provide it" $words
}

# As many jobs as there are cores, but at least 1.5 GB of free memory each (templates are hungry).
job_count() {
  if [ -n "${CMAKE_BUILD_PARALLEL_LEVEL:-}" ]; then
    echo "$CMAKE_BUILD_PARALLEL_LEVEL"
    return
  fi
  cores=$(getconf _NPROCESSORS_ONLN 2>/dev/null || echo 1)
  free_kb=$(sed -n 's/^MemAvailable: *\([0-9]*\).*/\1/p' /proc/meminfo 2>/dev/null)
  by_memory=$((${free_kb:-1500000} / 1500000))
  [ "$by_memory" -ge 1 ] || by_memory=1
  [ "$cores" -le "$by_memory" ] || cores=$by_memory
  echo "$cores"
}

# Configures and builds.  $1: folder below the root; $2: target; the rest: arguments for the configure
build_tree() {
  tree=$root/$1
  target=$2
  shift 2
  # A tree of a moved clone, or one whose tools have gone, cannot be used again. It holds nothing but our own output.
  if [ -f "$tree/CMakeCache.txt" ]; then
    maker=$(sed -n 's/^CMAKE_MAKE_PROGRAM:[A-Z]*=//p' "$tree/CMakeCache.txt")
    if ! grep -Fxq "CMAKE_HOME_DIRECTORY:INTERNAL=$root" "$tree/CMakeCache.txt" || [ ! -x "$maker" ]; then
      say "starting afresh: $tree was made for another place or by tools that have gone"
      rm -rf "$tree"
    fi
  fi
  if [ ! -f "$tree/CMakeCache.txt" ] && [ -z "${CMAKE_GENERATOR:-}" ]; then
    if command -v ninja >/dev/null 2>&1; then set -- "$@" -G Ninja; else set -- "$@" -G "Unix Makefiles"; fi
  fi
  mkdir -p "$tree"
  build_log=$tree/$program.log
  say "configuring ${tree#"$root"/}"
  cmake -S "$root" -B "$tree" "$@" >"$build_log" 2>&1 || { cat "$build_log" >&2; say "the configure failed"; exit 1; }
  jobs=$(job_count)
  say "building $target in ${tree#"$root"/} with $jobs at a time (some minutes the first time)"
  if [ -t 2 ]; then
    cmake --build "$tree" --target "$target" --parallel "$jobs" >&2 || { say "the build failed"; exit 1; }
  else
    cmake --build "$tree" --target "$target" --parallel "$jobs" >"$build_log" 2>&1 ||
      { tail -n 60 "$build_log" >&2; say "the build failed; all of its output: $build_log"; exit 1; }
  fi
}
