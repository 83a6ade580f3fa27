#!/usr/bin/env bash
# The page in a real browser: run.sh EVENBEAM FOLDER. Installs what package-lock.json names into FOLDER, once.
set -euo pipefail
program=$1 folder=$2 here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
mkdir -p "$folder"
if ! cmp -s "$here/package-lock.json" "$folder/package-lock.json" || [ ! -d "$folder/node_modules" ]; then
  cp "$here/package.json" "$folder/"
  (cd "$folder" && rm -rf node_modules && cp "$here/package-lock.json" . && npm ci --no-audit --no-fund --loglevel=error)
fi
export EVENBEAM=$program EVENBEAM_SOURCE=$here/../.. NODE_PATH=$folder/node_modules
cp "$here"/*.cjs "$folder/"
cd "$folder"
exec node --test "$folder/page_check.cjs"
