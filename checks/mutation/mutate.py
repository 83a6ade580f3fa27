#!/usr/bin/env python3
"""Changes one sign, factor, side or index of the physics at a time and asks the room's own tests whether they notice.

A mutant is one source file with one change. It is compiled by the room's own command and linked in front of the room's
library, so that neither the sources nor the build folder are touched. Run after `./run test` has built build/release.

Usage: mutate.py [--build build/release] [--out build/mutation] [--count 240] [--seed 1] [--room NAME ...] [--jobs 1] [--again]
Results are kept line by line in OUT/results.jsonl; a second call goes on where the first ended; --again asks survivors again.
Verdicts: killed, survived, equivalent (same machine code), stillborn (does not compile).
"""
import argparse
import concurrent.futures
import hashlib
import json
import pathlib
import random
import re
import resource
import shlex
import subprocess
import sys
import threading

ROOMS = ["math", "dynamics", "servo", "trajectory", "signal", "simulation", "identification", "limits", "nudge", "homing",
         "squareness", "tuning", "protection", "diagnosis", "acceptance"]
TEST_SECONDS = 20  # processor time of one test program; more is a hang, and a hang is noticed

# (kind, pattern, replacement); the pattern's first group is what is replaced.
NUMBER = r"\d+\.?\d*(?:e-?\d+)?"
CHANGES = [
    ("sign", r"(?<=[\w)\]] )(\+)(?= [\w(\-])", "-"),
    ("sign", r"(?<=[\w)\]] )(-)(?= [\w(\-])", "+"),
    ("sign", r"(?<= )(\+=)(?= )", "-="),
    ("sign", r"(?<= )(-=)(?= )", "+="),
    ("sign", r"(?:= |\(|, |\? |: |return )(-)(?=[a-z(])", ""),
    ("factor", r"(?<=[\w)\]] )(\*)(?= [\w(\-])", "/"),
    ("factor", r"(?<=[\w)\]] )(/)(?= [\w(\-])", "*"),
    ("factor", rf"(?<![\w.])({NUMBER})(?= \*)", "(2 * {})"),
    ("factor", rf"(?<=[*/] )({NUMBER})(?![\w.])", "(2 * {})"),
    ("factor", r"std::(sin)\(", "cos"),
    ("factor", r"std::(cos)\(", "sin"),
    ("factor", r"std::(min)\(", "max"),
    ("factor", r"std::(max)\(", "min"),
    ("side", r"(?<=[a-z])(_a)(?=_|\b)", "_b"),
    ("side", r"(?<=[a-z])(_b)(?=_|\b)", "_a"),
    ("side", r"(?<=\.)(a)(?=\.|\b[^(])", "b"),
    ("side", r"(?<=\.)(b)(?=\.|\b[^(])", "a"),
    ("index", r"\[(0)\]", "1"),
    ("index", r"\[(1)\]", "0"),
    ("index", r"\((0, 1)\)", "1, 0"),
    ("index", r"\((1, 0)\)", "0, 1"),
    ("index", r"\[\w+ (-) 1\]", "+"),
]
# Allowances for rounding: a change of them, or of the sign before one, is none of the physics.
ROUNDING = re.compile(r"[-+*/ ]*(?:\(2 \* )?\d\.?\d*e-(?:[7-9]|\d\d+)\b")
# Lines of words, of sizes for memory and of table heads are not physics.
NOT_PHYSICS = re.compile(r'"|1e6|#include|reserve\(|resize\(|static_assert|EVENBEAM_|\bcheck\(|template|operator')


def physics(path):
    """Numeric sources of a room: no tests, and no files that only put results into words, figures and tables."""
    return not re.search(r"_test\.cpp$|_station\.cpp$|findings|figures|_values\.cpp$|_toml|_words|describe", path.name)


def mutants_of(path, room, root):
    out = []
    for number, line in enumerate(path.read_text().split("\n"), 1):
        code = line.split("//")[0]
        if NOT_PHYSICS.search(code):
            continue
        for kind, pattern, new in CHANGES:
            for hit in re.finditer(pattern, code):
                changed = line[:hit.start(1)] + new.format(hit.group(1)) + line[hit.end(1):]
                name = f"{path.relative_to(root)}:{number}:{hit.start(1)}:{kind}"
                key = hashlib.sha256(f"{name}:{line}:{changed}".encode()).hexdigest()[:12]
                out.append({"id": key, "room": room, "kind": kind, "file": str(path.relative_to(root)), "line": number,
                            "was": line.strip(), "now": changed.strip(), "text": changed,
                            "rounding": ROUNDING.match(code, hit.start(1)) is not None})
    return out


def chosen(root, rooms, count, seed):
    """As many from each room, drawn evenly over its changes; at most one a line."""
    out = []
    for place, room in enumerate(rooms):
        pool = [m for path in sorted((root / "src" / room).glob("*.cpp")) if physics(path)
                for m in mutants_of(path, room, root)]
        random.Random(f"{seed}/{room}").shuffle(pool)
        share = (count * (place + 1)) // len(rooms) - (count * place) // len(rooms)
        lines = set()
        for m in pool:
            if len(lines) == share:
                break
            if not m["rounding"] and (m["file"], m["line"]) not in lines:
                lines.add((m["file"], m["line"]))
                out.append(m)
    return out


class Builder:
    """Commands of the build, asked of ninja once."""

    def __init__(self, root, build, out):
        self.root, self.build, self.out = root, build, out
        self.tests, self.compile, self.plain = {}, {}, {}

    def prepare(self, rooms):
        for room in rooms:
            programs = [p for p in (f"{room}_test", f"{room}_check") if (self.build / p).exists()]
            for program in programs:
                lines = subprocess.run(["ninja", "-C", self.build, "-t", "commands", program], check=True,
                                       capture_output=True, text=True).stdout.split("\n")
                for line in lines:
                    source = re.search(r" -c (\S+)$", line)
                    if source:
                        self.compile[source.group(1)] = line
                link = [line for line in lines if f" -o {program} " in line][-1]
                self.tests.setdefault(room, []).append((program, re.sub(r"^: && | && :$", "", link)))
            if room not in self.tests:
                sys.exit(f"no test program of room {room} in {self.build}; build first (./run test)")

    def object(self, source, text, folder):
        """Compiles the text in place of the source; None where it does not compile."""
        copy, binary = folder / source.name, folder / (source.stem + ".o")
        copy.write_text(text)
        words = shlex.split(self.compile[str(source)])
        words[words.index("-o") + 1], words[words.index("-c") + 1] = str(binary), str(copy)
        for flag, name in (("-MF", "d"), ("-MT", "t")):
            words[words.index(flag) + 1] = str(folder / name)
        done = subprocess.run(words + ["-w"], cwd=self.build, capture_output=True)
        return binary if done.returncode == 0 else None

    def plain_code(self, source, text, folder):
        """Of the source as it is, at the place where its mutants are compiled: names of files are in the code."""
        key = (str(source), str(folder))
        if key not in self.plain:
            self.plain[key] = code_of(self.object(source, text, folder))
        return self.plain[key]

    def link(self, command, program, binary, folder):
        words = shlex.split(command)
        place = words.index("-o")
        words[place + 1] = str(folder / program)
        words.insert(place, str(binary))  # before the libraries: the room's own copy is then not wanted
        subprocess.run(words, cwd=self.build, check=True, capture_output=True)
        return folder / program


def code_of(binary):
    """The object without what debuggers read: equal bytes are equal programs."""
    bare = binary.with_suffix(".bare")
    subprocess.run(["objcopy", "--strip-debug", "--remove-section=.comment", binary, bare], check=True)
    return bare.read_bytes()


def passes(program, build):
    def limit():
        resource.setrlimit(resource.RLIMIT_CPU, (TEST_SECONDS, TEST_SECONDS))
        resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    return subprocess.run([program, "--abort-after=1"], cwd=build, capture_output=True, preexec_fn=limit).returncode == 0


def verdict(builder, mutant):
    folder = builder.out / "work" / threading.current_thread().name
    folder.mkdir(parents=True, exist_ok=True)
    source = builder.root / mutant["file"]
    text = source.read_text()
    lines = text.split("\n")
    lines[mutant["line"] - 1] = mutant["text"]
    try:
        plain = builder.plain_code(source, text, folder)
        binary = builder.object(source, "\n".join(lines), folder)
        if not binary:
            return "stillborn"
        if code_of(binary) == plain:
            return "equivalent"
        for program, command in builder.tests[mutant["room"]]:
            if not passes(builder.link(command, program, binary, folder), builder.build):
                return "killed by " + program
        return "survived"
    finally:
        subprocess.run(["rm", "-rf", folder], check=True)


def table(results, rooms):
    print(f"{'room':<16}{'mutants':>8}{'killed':>8}{'survived':>9}{'same code':>10}{'stillborn':>10}")
    totals = [0] * 5
    for room in rooms + ["all"]:
        mine = [r["verdict"].split()[0] for r in results if room in (r["room"], "all")]
        row = [len(mine)] + [mine.count(v) for v in ("killed", "survived", "equivalent", "stillborn")]
        print(f"{room:<16}{row[0]:>8}{row[1]:>8}{row[2]:>9}{row[3]:>10}{row[4]:>10}")
        totals = row
    judged = totals[1] + totals[2]
    if judged:
        print(f"killed {totals[1]} of {judged}: {100 * totals[1] / judged:.1f} %")


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--build", default="build/release")
    ask.add_argument("--out", default="build/mutation")
    ask.add_argument("--count", type=int, default=240)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--room", action="append", choices=ROOMS)
    ask.add_argument("--jobs", type=int, default=1)
    ask.add_argument("--again", action="store_true", help="ask the survivors once more, after tests were added")
    said = ask.parse_args()
    root = pathlib.Path(__file__).resolve().parents[2]
    out = (root / said.out).resolve()
    out.mkdir(parents=True, exist_ok=True)
    rooms = said.room or ROOMS
    kept = {}
    if (out / "results.jsonl").exists():
        for line in (out / "results.jsonl").read_text().splitlines():
            try:
                row = json.loads(line)
            except ValueError:
                continue  # the line that a kill cut off
            kept[row["id"]] = row
    builder = Builder(root, (root / said.build).resolve(), out)
    builder.prepare(rooms)
    for room in rooms:  # a suite that fails by itself kills everything
        for program, _ in builder.tests[room]:
            if not passes(builder.build / program, builder.build):
                sys.exit(f"{program} fails or takes over {TEST_SECONDS} s without any change: nothing can be judged")
    mutants = chosen(root, rooms, said.count, said.seed)
    todo = [m for m in mutants if m["id"] not in kept or (said.again and kept[m["id"]]["verdict"] == "survived")]
    print(f"seed {said.seed}: {len(mutants)} mutants, {len(todo)} to ask", flush=True)
    with open(out / "results.jsonl", "a") as record, concurrent.futures.ThreadPoolExecutor(said.jobs) as pool:
        for mutant, said_of_it in zip(todo, pool.map(lambda m: verdict(builder, m), todo)):
            mutant["verdict"] = said_of_it
            kept[mutant["id"]] = mutant
            record.write(json.dumps({k: v for k, v in mutant.items() if k not in ("text", "rounding")}) + "\n")
            record.flush()
            if said_of_it == "survived":
                print(f"survived {mutant['file']}:{mutant['line']}\n  was {mutant['was']}\n  now {mutant['now']}", flush=True)
    table([kept[m["id"]] for m in mutants], rooms)


main()
