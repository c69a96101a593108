#!/bin/sh
# Everything that must be green before a change goes in, from a fresh clone: packages, release build, fast tests, then the
# unit tests under address and undefined-behaviour sanitizers. Ends with the ten slowest cases and ctest's summaries.
# The slow checks run elsewhere: tests/run_slow.sh.
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
sh "$top/tests/install_packages.sh" build test
cd "$top"
mkdir -p .build
jobs=$(nproc)
failed=0

run() {  # run PRESET [ROOMS]: configure, build, test all or the named rooms
  preset=$1
  cmake --preset "$preset" >".build/$preset.configure.log" 2>&1 || { cat ".build/$preset.configure.log"; exit 1; }
  if [ $# -gt 1 ]; then
    targets="ac_cdi transistor_inductive breaker_points flywheel_magneto coil_on_plug dc_cdi outboard_cdi wasted_spark"
    for room in $2; do targets="$targets test_$room"; done
    cmake --build --preset "$preset" -j "$jobs" --target $targets
    only="-R ^($(echo "$2" | tr ' ' '|'))\$"
  else
    cmake --build --preset "$preset" -j "$jobs"
    only=""
  fi
  ctest --preset "$preset" -j "$jobs" $only --output-log ".build/$preset.ctest.log" || failed=1
}
run release
# Unit tests only: whole programs and simulators would take longer than they tell under a sanitizer.
run asan "model sources circuit inference simulation planning history plugins"

echo
echo "Ten slowest cases (seconds, case, preset):"
# Catch2 prints one line a case with --durations yes; ctest keeps them in its log.
for preset in release asan; do
  sed -nE "s/^ *([0-9]+\.[0-9]+) s: (.*)\$/\1 \2 [$preset]/p" ".build/$preset/Testing/Temporary/LastTest.log"
done | sort -rn | head -n 10
for preset in release asan; do
  echo
  echo "== $preset"
  sed -n '/tests passed,/,$p' ".build/$preset.ctest.log"
done
exit $failed
