#!/bin/sh
# The long checks (ctest label `slow`), one after the other. What passed at this commit is not run again, so a stopped run
# goes on where it stopped. Each result goes into docs/long-checks.md with commit, command and machine.
# Usage: tests/run_slow.sh [--list] [--again] [NAME...]     --again: run them even if they passed at this commit
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
cd "$top"
state=.build/slow.state
page=docs/long-checks.md
list=0
again=0
names=
for argument in "$@"; do
  case $argument in
    --list) list=1 ;;
    --again) again=1 ;;
    -*) echo "usage: tests/run_slow.sh [--list] [--again] [NAME...]" >&2; exit 2 ;;
    *) names="$names $argument" ;;
  esac
done

sh tests/install_packages.sh build test
mkdir -p .build
touch "$state"
cmake --preset release >.build/release.configure.log 2>&1 || { cat .build/release.configure.log; exit 1; }
cmake --build --preset release -j "$(nproc)"

commit=$(git rev-parse --short HEAD)
git diff --quiet HEAD -- engine plugins networks tests || commit="$commit+changes"
machine="$(nproc) x $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1)"
[ -n "$names" ] || names=$(ctest --test-dir .build/release -N -L slow | sed -nE 's/^ *Test +#[0-9]+: //p')
[ -n "$names" ] || { echo "no test carries the label slow"; exit 0; }

failed=0
for name in $names; do
  command=$(ctest --test-dir .build/release -N -V -R "^$name\$" | sed -nE 's/^[0-9]+: Test command: //p' | head -n 1 |
            sed "s|$top/||g; s|\"||g")
  if [ $list -eq 1 ]; then
    printf '%s\t%s\n' "$name" "$command"
    continue
  fi
  if [ $again -eq 0 ] && grep -qxF "$commit $name passed" "$state"; then
    echo "$name: passed at $commit already"
    continue
  fi
  echo "$name: $command"
  begin=$(date +%s)
  if ctest --test-dir .build/release -R "^$name\$" --output-on-failure; then result=passed; else result=FAILED; failed=1; fi
  seconds=$(($(date +%s) - begin))
  echo "$commit $name $result" >>"$state"
  # One row a check: the newest run replaces the older one.
  row="| $name | $result | $commit | $(date -u +%Y-%m-%d) | $seconds | $machine | \`$command\` |"
  awk -v name="$name" -v row="$row" '
    index($0, "| " name " |") == 1 { if (!done) print row; done = 1; next }
    /^\|---/ { table = 1 }
    table && !/^\|/ { if (!done) print row; done = 1; table = 0 }
    { print }
    END { if (!done) print row }' "$page" >"$page.new" && mv "$page.new" "$page"
done
exit $failed
