#!/bin/sh
# From a fresh clone to a diagnosis: installs what is missing, builds the program, traces a fault on the demo vehicle.
#   sh engine/trace_demo.sh           you type the readings
#   sh engine/trace_demo.sh --play    the program plays the vehicle too: a hidden fault behind "no spark", found by itself
# Any other switch goes on to `lostspark trace` as well (--seed 7: another hidden fault).
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
build=$top/.build/demo
sh "$top/tests/install_packages.sh" build
cd "$top"
log=$build.log
mkdir -p "$top/.build"
echo "lostspark: building (the first time takes some minutes; log in .build/demo.log)"
# Tests and benches stay out: they need more packages and most of the time. -B keeps the release folder untouched.
if ! { cmake --preset release -B "$build" -DLOSTSPARK_TESTS=OFF -DLOSTSPARK_BENCHES=OFF &&
       cmake --build "$build" --target lostspark ac_cdi transistor_inductive breaker_points coil_on_plug -j "$(nproc)"; } >"$log" 2>&1; then
  tail -n 30 "$log" >&2
  echo "lostspark: the build failed; the whole log is $log" >&2
  exit 1
fi
# The built-in folders of a build tree are its own; the two variables only say so aloud.
LOSTSPARK_PLUGINS=$build/lib/lostspark/plugins LOSTSPARK_NETWORKS=$top/networks
export LOSTSPARK_PLUGINS LOSTSPARK_NETWORKS
case " $* " in  # a demo shows a lost spark, unless another complaint or fault is asked for
  *" --complaint "* | *" --fault "* | *" --help "*) ;;
  *" --play "*) set -- "$@" --complaint no_spark ;;
esac
case " $* " in  # which fault is hidden: one that every reading tells something about
  *" --seed "* | *" --fault "* | *" --help "*) ;;
  *" --play "*) set -- "$@" --seed 2 ;;
esac
exec "$build/bin/lostspark" trace quillmarsh_trail_125 "$@"
