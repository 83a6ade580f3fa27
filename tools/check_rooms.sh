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
bad=0
stairs=$(for room in "${!floor[@]}"; do echo "$room ${floor[$room]}"; done)
# Each line: file:line:#include "room/file.h"
judged=$(grep -rnE '^#include "[a-z_]+/' --include='*.h' --include='*.cpp' . | sed 's/^\.\///' | awk -v stairs="$stairs" '
  BEGIN {
    count = split(stairs, rows, "\n")
    for (i = 1; i <= count; ++i) { split(rows[i], row, " "); floor[row[1]] = row[2] }
  }
  {
    split($0, parts, ":"); place = "src/" parts[1] ":" parts[2]
    from = parts[1]; sub("/.*", "", from)
    to = $0; sub(".*#include \"", "", to); sub("/.*", "", to)
    ++seen
    if (!(from in floor) || !(to in floor)) {
      print place ": room \x27" from "\x27 or \x27" to "\x27 is not in the table of tools/check_rooms.sh"; bad = 1
    } else if (from != to && !(floor[from] + 0 > floor[to] + 0)) {
      print place ": \x27" from "\x27 (floor " floor[from] ") may not include \x27" to "\x27 (floor " floor[to] ")"; bad = 1
    }
  }
  END { print seen + 0; exit bad }') || bad=1
seen=${judged##*$'\n'}
[ "$judged" = "$seen" ] || echo "${judged%$'\n'*}"
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
