#!/usr/bin/env bash
# Fetches axe-core, which the tests of the tag browser run in the page, from the
# npm registry, and holds it to the checksum below. Run it to renew axe.min.js.
set -euo pipefail
cd "$(dirname "$0")"
version=4.14.1
sum=29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
(cd "$dir" && npm pack --silent "axe-core@$version" && tar xzf "axe-core-$version.tgz")
echo "$sum  $dir/package/axe.min.js" | sha256sum --check --quiet
cp "$dir/package/axe.min.js" axe.min.js
cp "$dir/package/LICENSE" LICENSE
