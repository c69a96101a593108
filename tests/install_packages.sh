#!/bin/sh
# Installs the Debian packages of the named groups (default: all) that are missing; asks for root through sudo.
# Usage: tests/install_packages.sh [build] [test]
set -eu
here=$(cd "$(dirname "$0")" && pwd)
groups=${*:-build test}

missing=
for group in $groups; do
  for package in $(awk -v g="$group" '$1 == g { print $2 }' "$here/packages.txt"); do
    state=$(dpkg-query -W -f '${Status}' "$package" 2>/dev/null || true)
    [ "$state" = "install ok installed" ] || missing="$missing $package"
  done
done
[ -n "$missing" ] || exit 0

if ! command -v apt-get >/dev/null 2>&1; then
  echo "lostspark: these Debian packages are missing and there is no apt-get here:$missing" >&2
  echo "lostspark: install their counterparts by hand, then start again" >&2
  exit 1
fi
root=
if [ "$(id -u)" -ne 0 ]; then
  if ! command -v sudo >/dev/null 2>&1; then
    echo "lostspark: run as root (there is no sudo): apt-get install$missing" >&2
    exit 1
  fi
  root=sudo
fi
echo "lostspark: installing$missing"
$root env DEBIAN_FRONTEND=noninteractive apt-get update -q
# shellcheck disable=SC2086  # a list of words is meant
$root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
