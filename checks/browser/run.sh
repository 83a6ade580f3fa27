#!/usr/bin/env bash
# The page in a real browser: run.sh EVENBEAM FOLDER [bench]. Installs what package-lock.json names into FOLDER, once.
set -euo pipefail
program=$1 folder=$2 task=${3:-check} here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
mkdir -p "$folder"
if ! cmp -s "$here/package-lock.json" "$folder/package-lock.json" || [ ! -d "$folder/node_modules" ]; then
  cp "$here/package.json" "$folder/"
  (cd "$folder" && rm -rf node_modules && cp "$here/package-lock.json" . && npm ci --no-audit --no-fund --loglevel=error)
fi
export EVENBEAM=$program EVENBEAM_SOURCE=$here/../.. NODE_PATH=$folder/node_modules
cp "$here"/*.cjs "$here"/../../bench/page_bench.cjs "$folder/"
cd "$folder"
[ "$task" = bench ] && exec node page_bench.cjs
exec node --test "$folder/page_check.cjs"
