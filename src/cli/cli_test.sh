#!/usr/bin/env bash
# The program as a person or a script meets it: exit codes, words, JSON, refusals. Usage: cli_test.sh PROGRAM FOLDER
set -u
program=$(realpath "$1")
rm -rf "$2" && mkdir -p "$2" && cd "$2" || exit 1
failures=0
shown=""

# expect CODE WORDS COMMAND...: exit code, and words that its output (both streams) must hold
expect() {
  local wanted=$1 words=$2 code=0 output
  shift 2
  output=$("$@" 2>&1) || code=$?
  if [ "$code" != "$wanted" ] || ! grep -qF -- "$words" <<<"$output"; then
    echo "FAILED: $* : exit $code (wanted $wanted), wanted words: $words"
    echo "$output" | head -20
    failures=$((failures + 1))
  fi
}

json() { python3 -c 'import json,sys; d=json.load(sys.stdin); sys.exit(0 if eval(sys.argv[1]) else 1)' "$1"; }
expect_json() {  # expect_json EXPRESSION COMMAND...: standard output is JSON for which the expression holds
  local expression=$1
  shift
  if ! "$@" 2>/dev/null | json "$expression"; then
    echo "FAILED: $* : JSON wanted with $expression"
    failures=$((failures + 1))
  fi
}

expect 0 "evenbeam " "$program" --version
expect 0 "Exit codes: 0 pass" "$program" --help
# every command shows how it is used, and its man page and the shells know the same words
"$program" manual man >evenbeam.1
"$program" manual bash >evenbeam.bash
for command in $("$program" manual fish | sed -n 's/.*-f -a \([a-z]*\) -d.*/\1/p'); do
  expect 0 "  evenbeam $command" "$program" "$command" --help
  expect 0 ".SS evenbeam $command" cat evenbeam.1
  shown="$shown$command "
done
[ "$shown" = "new next ready commission report export history rehearse simulate demo serve manual " ] ||
  { echo "FAILED: commands $shown"; failures=$((failures + 1)); }
if command -v groff >/dev/null; then
  [ -z "$(groff -man -ww -z evenbeam.1 2>&1)" ] || { echo "FAILED: groff finds fault with the man page"; failures=$((failures + 1)); }
fi
offers() {  # offers WORDS COMMAND-LINE...: what bash completion offers for the last word must hold the words
  local words=$1
  shift
  COMP_WORDS=("$@") COMP_CWORD=$(($# - 1))
  _evenbeam
  [[ " ${COMPREPLY[*]} " == *" $words "* ]] || { echo "FAILED: completion of $*: ${COMPREPLY[*]}"; failures=$((failures + 1)); }
}
mkdir -p "press 7" && . ./evenbeam.bash
offers commission evenbeam com
offers --results evenbeam next "press 7" --res
offers percent evenbeam export "press 7" --form per
offers "press 7" evenbeam report pre
offers marks evenbeam commission "press 7" --override ma
expect 3 "man, bash, zsh, fish" "$program" manual tcsh
expect 3 "Subcommands:" "$program"
expect 3 "" "$program" no-such-command
expect 3 "--override requires" "$program" commission job --override nudge

expect 0 "machine.toml" "$program" new job
expect 3 "a job already there" "$program" new job
expect 2 "Fill in machine.toml" "$program" next job
expect_json 'd["kind"] and isinstance(d["cautions"], list)' "$program" next job --json
expect 3 "no such folder" "$program" commission nowhere
expect_json 'd["troubles"][0]["file"] == "nowhere"' "$program" commission nowhere --json

# the demo: verdicts, next step, report; then its record
demo_code=0
"$program" demo demo >demo.txt 2>demo.err || demo_code=$?
[ "$demo_code" -le 2 ] || { echo "FAILED: demo exits $demo_code"; cat demo.err; failures=$((failures + 1)); }
for words in "prove" "next:" "report: " "caution:"; do
  grep -qF "$words" demo.txt || { echo "FAILED: demo does not say $words"; failures=$((failures + 1)); }
done
grep -q $'\x1b' demo.txt && { echo "FAILED: colours in a pipe"; failures=$((failures + 1)); }
if command -v chromium >/dev/null; then
  [ "$(head -c 5 demo/results/report.pdf 2>/dev/null)" = "%PDF-" ] || { echo "FAILED: no PDF"; failures=$((failures + 1)); }
  grep -qa "/Outlines" demo/results/report.pdf || { echo "FAILED: the PDF has no outline"; failures=$((failures + 1)); }
  # text that can be selected; the page that is signed is one page, on both papers
  if command -v pdftotext >/dev/null; then
    first_page() { pdftotext -f 1 -l 1 demo/results/report.pdf - | tr '\n' ' '; }
    grep -qF "Signature" <<<"$(first_page)" || { echo "FAILED: no signatures on page 1 of A4"; failures=$((failures + 1)); }
    expect "$demo_code" "report.html" "$program" report demo --paper letter
    pdfinfo demo/results/report.pdf | grep -q "612 x 792" || { echo "FAILED: not letter"; failures=$((failures + 1)); }
    grep -qF "Signature" <<<"$(first_page)" || { echo "FAILED: no signatures on page 1 of letter"; failures=$((failures + 1)); }
    expect "$demo_code" "report.html" "$program" report demo
  fi
else
  grep -qF "No PDF" demo.txt || { echo "FAILED: a missing PDF is not told"; failures=$((failures + 1)); }
fi
expect_json 'd["schema"] == "evenbeam.result/1" and d["stations"]["prove"]["verdict"] in ("pass","attention","stop")' \
  cat demo/results/result.json
expect_json "d['exit_code'] == $demo_code and d['entry'] == 2" "$program" commission demo --json
expect 0 "evaluation" "$program" history demo
expect_json 'len(d["entries"]) == 2' "$program" history demo --json
expect 0 "Nothing changed" "$program" history demo 1 2
expect 3 "no entry 9" "$program" history demo 1 9
expect 3 "" "$program" history demo 1
expect 0 "all holds" "$program" history demo --verify
echo "# changed" >>demo/machine.toml
expect 2 "machine.toml has other content" "$program" history demo --verify
expect 3 "not the demo's" "$program" demo demo
expect 3 "--paper" "$program" report demo --paper foolscap

# every single number of the record says how sure it is and by what, in the report beside it
python3 - demo/results/result.json demo/results/report.html <<'EOF' || failures=$((failures + 1))
import json, re, sys
stations = json.load(open(sys.argv[1]))["stations"]
page = open(sys.argv[2]).read()
bad = []
for name, station in stations.items():
    part = page[page.find(f'id="station-{name}"'):]
    part = part[:part.find("</section>")]
    for key, value in station["values"].items():
        if isinstance(value["value"], (str, list)):
            continue
        row = re.search(r"<td>([^<]*)</td><td><code>%s</code></td>" % re.escape(key), part)
        if not row or not row.group(1).strip():
            bad.append(f"{name}.{key}: no method")
        elif value["value"] is None and "unknown" not in row.group(1):
            bad.append(f"{name}.{key}: unknown, and nothing says what would settle it")
        elif value["value"] is not None and not value["unit"]:
            bad.append(f"{name}.{key}: no unit")
if bad or not any(s["values"] for s in stations.values()):
    print("FAILED: numbers without", *bad, sep="\n  ")
    sys.exit(1)
EOF

# settings in a controller's terms; a broken request, a job without settings
if grep -qE '0\.[0-9]{3,}0\.[0-9]{3,}' demo/results/report.html || ! grep -q ' at y = ' demo/results/report.html; then
  echo "FAILED: the share's list runs together in the report"; failures=$((failures + 1))
fi
[ -s demo/results/settings.st ] || { echo "FAILED: no settings.st"; failures=$((failures + 1)); }
expect 0 "FUNCTION_BLOCK GantryLoop" "$program" export demo --form st --settings demo/results/settings.toml
expect 0 "%/(mm/s)" "$program" export demo --form percent --settings demo/results/settings.toml
expect_json 'd["forms"][0]["form"] == "cycle" and d["forms"][0]["rows"][0]["value"] == 1' \
  "$program" export demo --form cycle --json --settings demo/results/settings.toml
expect_json 'len(d["forms"]) == 8' "$program" export demo --json --settings demo/results/settings.toml
expect 0 "written" "$program" export demo --form st --to law.st --settings demo/results/settings.toml
cmp -s law.st demo/results/settings.st || { echo "FAILED: --to writes another text"; failures=$((failures + 1)); }
expect 3 "one of si, user" "$program" export demo --form furlongs
expect 3 "nothing" "$program" export demo --form si --settings nowhere.toml
expect 1 "There are no proposed settings" "$program" export job --form si

# after a repair
expect 1 "electrical angle" "$program" next demo --after drive-b
expect_json 'any(c["name"] == "multisine from B" for c in d["captures"]) and d["stations"][-1]["name"] == "handover"' \
  "$program" next demo --after drive-b --json
expect 3 "one of drive-a" "$program" next demo --after lunch
expect 3 "no evaluation of that number" "$program" next demo --after drive-b --since 99
expect 3 "already there" "$program" demo demo --first-day
# the virtual gantry: the table, a session, recordings that nothing writes over
expect 0 "search with a dead side" "$program" rehearse demo
expect 0 "instead: Take out skew, tie" "$program" rehearse demo --operation search
expect 3 "take out skew" "$program" rehearse demo --operation serch
expect_json 'len(d["rules"]) == 90 and d["virtual_machine"] == "fit" and d["to_one_side"][0]["skew_m"]["upper"] > d["to_one_side"][0]["skew_m"]["value"] > 0' \
  "$program" rehearse demo --json
steps() { printf 'format = "evenbeam.session/1"\n'; for step in "$@"; do printf '[[step]]\noperation = "%s"\nside = "%s"\n' "${step%/*}" "${step#*/}"; done; }
steps enable/both close/both tie/both close/both search/both >right.toml
steps enable/both push/a close/both search/b >wrong.toml
printf 'format = "evenbeam.session/1"\n[[step]]\noperation = "dance"\n' >dance.toml
expect 0 "5 commands, 0 wrong" "$program" rehearse demo --script right.toml
expect 2 "line 11" "$program" rehearse demo --script wrong.toml
expect 2 "MORE THAN ALLOWED" "$program" rehearse demo --script wrong.toml
expect_json 'd["exit_code"] == 2 and d["steps"][3]["to_one_side"]["yaw_moment_n_m"]["value"] > 0' "$program" rehearse demo --script wrong.toml --json
expect 3 "dance" "$program" rehearse demo --script dance.toml
expect 0 "with the fitted plant" "$program" simulate demo --run push --run fault --seed 3
expect 3 "never written over" "$program" simulate demo --run push --seed 3
expect 3 "no such run" "$program" simulate demo --run dance
printf 'format = "evenbeam.defects/1"\nname = "brake of B drags"\n[side_b]\nbrake_drag = "45 N"\n' > drags.toml
expect 0 "broken: brake of B drags" "$program" simulate demo --run standstill --seed 6 --with drags.toml
expect 3 "expected" "$program" simulate demo --run standstill --seed 7 --with demo/machine.toml
expect_json 'd["seed"] == 4 and [f["file"] for f in d["files"]] == ["00-standstill.csv"]' \
  "$program" simulate demo --run standstill --seed 4 --into alone --json
grep -q '"format": "evenbeam.truth/1"' alone/truth.json || { echo "FAILED: no truth"; failures=$((failures + 1)); }
expect 3 "template" "$program" simulate job

# a wrong machine.toml: every trouble with its line, nothing written
mkdir -p wrong && printf 'span = "2 kg"\nspam = 1\n' >wrong/machine.toml
expect 3 "machine.toml:1" "$program" commission wrong
expect 3 "spam" "$program" commission wrong
[ -e wrong/results ] && { echo "FAILED: results of a wrong machine"; failures=$((failures + 1)); }

# a broken capture beside good ones
mkdir -p broken/recordings && printf 'span = "1.6 m"\n' >broken/machine.toml
printf 'not a table\n' >broken/recordings/bad.csv
expect 1 "bad.csv could not be read" "$program" commission broken
expect 3 "nothing there" "$program" commission broken --recordings nowhere

# nothing is kept outside the job, and without a terminal or with NO_COLOR nothing is coloured
mkdir -p home temporary
HOME=$PWD/home XDG_CONFIG_HOME=$PWD/home/c XDG_CACHE_HOME=$PWD/home/k XDG_DATA_HOME=$PWD/home/d XDG_STATE_HOME=$PWD/home/s \
  TMPDIR=$PWD/temporary "$program" report demo >/dev/null 2>&1
[ -z "$(find home temporary -mindepth 1)" ] || { echo "FAILED: kept outside the job: $(find home temporary -mindepth 1)"; failures=$((failures + 1)); }
if command -v script >/dev/null; then
  script -qec "'$program' commission broken" /dev/null </dev/null | grep -q $'\x1b' || { echo "FAILED: no colours on a terminal"; failures=$((failures + 1)); }
  NO_COLOR=1 script -qec "'$program' commission broken" /dev/null </dev/null | grep -q $'\x1b' && { echo "FAILED: colours in spite of NO_COLOR"; failures=$((failures + 1)); }
fi

# results elsewhere leave the job alone; standard output that is full is told
before=$(find demo -type f | sort | xargs sha256sum)
"$program" commission demo --results elsewhere >/dev/null 2>&1
[ "$before" = "$(find demo -type f | sort | xargs sha256sum)" ] || { echo "FAILED: --results touched the job"; failures=$((failures + 1)); }
[ -e elsewhere/journal.sqlite ] || { echo "FAILED: no journal beside the results"; failures=$((failures + 1)); }
if [ -c /dev/full ]; then
  code=0
  "$program" next broken >/dev/full 2>full.err || code=$?
  [ "$code" = 3 ] && grep -q "standard output" full.err || { echo "FAILED: full output: exit $code"; failures=$((failures + 1)); }
fi
if [ "$(id -u)" != 0 ]; then  # root may write anywhere
  chmod a-w broken && expect 3 "--results DIR" "$program" commission broken
  chmod u+w broken
fi
echo "cli: $failures failures"
[ "$failures" = 0 ]
