#!/usr/bin/env bash
# Makes three.min.js, the part of three.js (MIT, LICENSE beside this) that the page's 3-D view needs. Only needed to move to another version;
# building bladeform does not run it. The result is the same byte for byte for the versions named here.
set -euo pipefail
cd "$(dirname "$0")"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
npm install --prefix "$work" --no-save --ignore-scripts three@0.187.0 esbuild@0.28.2
cp entry.js "$work/entry.js"
"$work/node_modules/.bin/esbuild" "$work/entry.js" --bundle --minify --format=iife --global-name=Three3d \
  --legal-comments=inline --target=es2020 --outfile=three.min.js
cp "$work/node_modules/three/LICENSE" LICENSE
sha256sum three.min.js
