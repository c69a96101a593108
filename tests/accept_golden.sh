#!/bin/sh
# Accepts changed golden pages: shows what differs between tests/golden and what the last test run left in
# <build>/golden, and copies it over. Usage: tests/accept_golden.sh [BUILD_FOLDER] (default: the newest one that has some)
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
if [ $# -gt 0 ]; then
  fresh=$1/golden
else
  fresh=$(ls -dt "$top"/.build/*/golden "$top"/build*/golden 2>/dev/null | head -n 1)
fi
if [ ! -d "${fresh:-/nonexistent}" ]; then
  echo "nothing to accept: no test run left a changed page" >&2
  exit 0
fi
for page in "$fresh"/*; do
  [ -f "$page" ] || continue
  name=$(basename "$page")
  echo "== $name"
  if [ -f "$top/tests/golden/$name" ]; then
    diff -u "$top/tests/golden/$name" "$page" || true
  else
    echo "(new, $(wc -l < "$page") lines)"
  fi
  mv "$page" "$top/tests/golden/$name"
done
rmdir "$fresh"
echo "Read the difference above (git diff tests/golden) before you commit it."
