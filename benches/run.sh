#!/bin/sh
# Builds the benches in release, runs them, writes the tables of docs/benches.md with machine, commit and command.
# Usage: benches/run.sh [NAME...]   NAME: inference, circuit, scale, process (default: all; the page needs all)
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
cd "$top"
names=${*:-inference circuit scale process}
sh tests/install_packages.sh build test
mkdir -p .build
cmake --preset release >.build/release.configure.log 2>&1 || { cat .build/release.configure.log; exit 1; }
targets="lostspark ac_cdi"
for name in $names; do targets="$targets bench_$name"; done
# shellcheck disable=SC2086  # lists of words are meant
cmake --build --preset release -j "$(nproc)" --target $targets

# Time per step by number of components, and by how much it grows for each tenfold.
growth() {
  awk '
    BEGIN { print "| components | ms per step | times the one before |"; print "|--:|--:|--:|" }
    /^step\/[0-9]/ {
      split($1, id, "/")
      if (before) printf "| %d | %s | %.1f |\n", id[2], $2, $2 / before; else printf "| %d | %s | |\n", id[2], $2
      before = $2
    }
    END { print "" }' "$1"
}

out=.build/benches.md
commit=$(git rev-parse --short HEAD)
git diff --quiet HEAD -- engine plugins networks benches || commit="$commit with changes"
: >"$out"
for name in $names; do
  # shellcheck disable=SC2046
  program=$(find .build/release -type f -name "bench_$name" | head -n 1)
  echo "bench_$name ..."
  "$program" >".build/bench_$name.txt" 2>".build/bench_$name.context" ||
    { cat ".build/bench_$name.context"; echo "bench_$name failed" >&2; exit 1; }
  {
    printf '### %s\n\n' "bench_$name"
    printf 'Commit %s, %s. Command: `sh benches/run.sh` (runs `%s`).\n\n```\n' "$commit" "$(date -u +%Y-%m-%d)" "$program"
    grep -E '^(workload|machine|compiler|build|seed|Run on|Load)' ".build/bench_$name.context" || true
    cat ".build/bench_$name.txt"
    printf '```\n\n'
    [ "$name" != scale ] || growth ".build/bench_$name.txt"
  } >>"$out"
done

[ $# -eq 0 ] || { cat "$out"; exit 0; }
awk -v out="$out" '
  /^<!-- results:/ { print; while ((getline line < out) > 0) print line; skip = 1; next }
  /^<!-- end of results/ { skip = 0 }
  !skip { print }' docs/benches.md >docs/benches.md.new && mv docs/benches.md.new docs/benches.md
echo "docs/benches.md is up to date"
