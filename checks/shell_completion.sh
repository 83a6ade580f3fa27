#!/usr/bin/env bash
# Completion asked of the shells themselves, where they are installed (zsh, fish; bash is everywhere). PROGRAM as argument.
set -euo pipefail
program=$(realpath "$1")
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
expect() {  # SHELL WORD ANSWERS
  grep -q -- "$2" <<<"$3" || { echo "$1: \"$2\" is not offered; offered: $3" >&2; exit 1; }
}

cat >"$folder/ask.bash" <<'END'
source <("$1" manual bash)
COMP_WORDS=(evenbeam "${@:2}") COMP_CWORD=$(($# - 1))
$(complete -p evenbeam | sed -E 's/.*-F ([^ ]+).*/\1/') evenbeam "${@: -1}" "${@: -2:1}"
printf '%s\n' "${COMPREPLY[@]}"
END
expect bash rehearse "$(bash "$folder/ask.bash" "$program" re)"
expect bash motor-b "$(bash "$folder/ask.bash" "$program" next --after mo)"

if command -v fish >/dev/null; then
  "$program" manual fish >"$folder/evenbeam.fish"
  expect fish rehearse "$(fish -c "source $folder/evenbeam.fish; complete -C 'evenbeam re'")"
  expect fish motor-b "$(fish -c "source $folder/evenbeam.fish; complete -C 'evenbeam next --after '")"
else
  echo "fish is not installed: not asked"
fi

if command -v zsh >/dev/null; then
  "$program" manual zsh >"$folder/_evenbeam"
  # zsh/parameter holds names that no function may take for its own.
  cat >"$folder/ask.zsh" <<'END'
zmodload zsh/zpty
zpty shell zsh -f -i
zpty -w shell "PS1='> '; zmodload zsh/parameter; fpath=($1 \$fpath); autoload -Uz compinit; compinit -u -D; stty cols 200"
sleep 2
zpty -w -n shell $'evenbeam re\t'
sleep 2
zpty -w -n shell $'\C-uevenbeam next --after mo\t\t'
sleep 2
zpty -w shell ''
while zpty -r -t shell line; do print -r -- "$line"; done
END
  answers=$(timeout 30 zsh -f "$folder/ask.zsh" "$folder" | tr -d '\r')
  expect zsh rehearse "$answers"
  expect zsh motor-b "$answers"
  ! grep -q "can't change type" <<<"$answers" || { echo "zsh: $answers" >&2; exit 1; }
else
  echo "zsh is not installed: not asked"
fi
echo "completion: as asked"
