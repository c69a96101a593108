#!/bin/sh
# outside_family.sh CMAKE BUILD_TREE FAMILY_SOURCE CHECKER COMPILER SANITIZE
# Installs the SDK of BUILD_TREE to a fresh prefix, copies the family away from the repository, builds it there with nothing
# but the prefix, checks its one exported symbol, loads it with CHECKER. The folder is kept on failure.
set -eu
cmake=$1 tree=$2 source=$3 checker=$4 compiler=$5 sanitize=$6
work=$(mktemp -d "${TMPDIR:-/tmp}/lostspark-sdk.XXXXXX")
fail() {
  echo "$1 (folder kept: $work)" >&2
  exit 1
}

"$cmake" --install "$tree" --prefix "$work/prefix" --component sdk >"$work/install.log" || fail "the SDK does not install"
cp -r "$source" "$work/family"
# The repository must not be needed: no path of it may stand in the installed package.
repository=$(cd "$source/../../.." && pwd)
grep -rIlF "$repository" "$work/prefix" && fail "the installed files name the repository"

flags=
[ -z "$sanitize" ] || flags="-fsanitize=$sanitize"
"$cmake" -S "$work/family" -B "$work/build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DCMAKE_PREFIX_PATH="$work/prefix" \
  -DCMAKE_CXX_COMPILER="$compiler" -DCMAKE_CXX_FLAGS="$flags" >"$work/configure.log" 2>&1 ||
  { cat "$work/configure.log"; fail "the family does not configure"; }
"$cmake" --build "$work/build" >"$work/build.log" 2>&1 || { cat "$work/build.log"; fail "the family does not build"; }

library=$work/build/outside_family.so
[ -f "$library" ] || fail "no library outside_family.so"
# Sanitizer runtimes add symbols of their own.
symbols=$(nm -D --defined-only "$library" | awk '{ print $3 }')
[ -n "$sanitize" ] || [ "$symbols" = lostspark_entry ] || fail "exports more than lostspark_entry: $symbols"

"$checker" "$library" || fail "the host finds problems in the family"
# The same check must be able to fail: a library that is no family.
cp "$work/build.log" "$work/not_a_library.so"
if "$checker" "$work/not_a_library.so" >/dev/null 2>&1; then fail "a text file passed as a family"; fi
rm -rf "$work"
