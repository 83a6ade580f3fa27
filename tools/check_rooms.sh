#!/usr/bin/env bash
# Includes go down the stairs only, and the picture of the house is that of the code. Usage: check_rooms.sh SOURCE_DIR
# Tests compare by a part of what they compare.
# Floor 0 is ordered (base, units, math, machine); rooms on one floor above it do not open into each other.
set -eu
cd "${1:-.}/src"
declare -A floor=(
  [base]=0.0 [units]=0.1 [math]=0.1 [machine]=0.2
  [dynamics]=1 [servo]=1 [trajectory]=1 [recording]=1 [signal]=1
  [simulation]=2 [identification]=2
  [readiness]=3 [limits]=3 [nudge]=3 [homing]=3 [squareness]=3 [tuning]=3 [protection]=3 [diagnosis]=3
  [rehearsal]=3 [acceptance]=3
  [journal]=4 [report]=4 [exporting]=4 [workflow]=5 [web]=6.0 [server]=6.1 [cli]=7)
bad=0 seen=0
while IFS=: read -r file line text; do
  from=${file%%/*}
  to=$(sed -E 's/.*#include "([a-z_]+)\/.*/\1/' <<<"$text")
  seen=$((seen + 1))
  if [ -z "${floor[$from]:-}" ] || [ -z "${floor[$to]:-}" ]; then
    echo "src/$file:$line: room '$from' or '$to' is not in the table of tools/check_rooms.sh"; bad=1
  elif [ "$from" != "$to" ] && ! awk "BEGIN{exit !(${floor[$from]} > ${floor[$to]})}"; then
    echo "src/$file:$line: '$from' (floor ${floor[$from]}) may not include '$to' (floor ${floor[$to]})"; bad=1
  fi
done < <(grep -rnE '^#include "[a-z_]+/' --include='*.h' --include='*.cpp' . | sed 's/^\.\///')
if grep -rnE '^#include "[^/"]+"' --include='*.h' --include='*.cpp' . ; then
  echo "write includes from src/: #include \"room/file.h\""; bad=1
fi
if grep -rnF 'doctest::Approx(' --include='*.h' --include='*.cpp' . ../checks ../demo | grep -vF '.scale('; then
  echo "takes any two micrometres for equal: base::test::near (src/base/near_test.h), or .scale(0)"; bad=1
fi
[ "$seen" -gt 0 ] || { echo "check_rooms: no includes found, wrong folder?"; exit 1; }
python3 ../tools/draw_rooms.py --check .. || bad=1
[ "$bad" = 0 ] && echo "rooms: $seen includes, all downwards"
exit $bad
