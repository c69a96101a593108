#!/bin/sh
# check_links.sh TOP: every relative link of every Markdown page of the tree leads to a file; every script, source folder or
# page named in README and DEVELOPERS between backticks exists. Prints each that does not.
set -eu
cd "$1"
bad=0
for page in README.md DEVELOPERS.md $(find docs -name '*.md'); do
  folder=$(dirname "$page")
  for link in $(grep -oE '\]\([^)#: ]+(#[^)]*)?\)' "$page" | sed -E 's/^\]\(//; s/\)$//; s/#.*//'); do
    [ -e "$folder/$link" ] || { echo "$page: no such page: $link"; bad=1; }
  done
done
for page in README.md DEVELOPERS.md; do
  for path in $(grep -oE '`(engine|plugins|networks|tests|benches|docs|\.ci)/[A-Za-z0-9_./-]+`' "$page" | tr -d '`'); do
    [ -e "$path" ] || { echo "$page: no such file: $path"; bad=1; }
  done
done
exit $bad
