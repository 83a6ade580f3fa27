#!/usr/bin/env python3
"""Breaks the world around the program and looks at what is left.

After each fault: the job opens, the journal's chain is whole, no result is half written, the originals are untouched,
and the exit code is one that docs name (0-3; 4 would be a fault of the program itself).

Usage: faults.py PROGRAM FOLDER [--kills N] [--seed S] [--only NAME ...] [--large-gb G]
Prints one line a part and the seed; exit code 1 where anything broke.
"""
import argparse
import contextlib
import hashlib
import json
import os
import pathlib
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import tomllib

troubles = []
ORIGINALS = ("machine.toml", "recordings/one.csv", "recordings/two.csv")


def note(what, detail=""):
    troubles.append(what)
    print(f"BROKEN: {what}\n{detail}", flush=True)


def environment(**more):
    """Without a browser: the PDF is its own program, and its start would take most of the time."""
    return {"PATH": "/nonexistent", "LC_ALL": "C.UTF-8", **more}


class Bench:
    def __init__(self, program, folder):
        self.program, self.folder = program, pathlib.Path(folder)
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True)

    def run(self, *words, timeout=120, **more):
        env = environment(**more.pop("env", {}))
        return subprocess.run([self.program, *map(str, words)], capture_output=True, timeout=timeout, env=env,
                              errors="replace", cwd=self.folder, **more)

    def tiny_job(self, name):
        """A machine of ten lines and two short captures: a second's work at most for any command."""
        job = self.folder / name
        (job / "recordings").mkdir(parents=True)
        (job / "machine.toml").write_text('span = "1.6 m"\n')
        write_capture(job / "recordings/one.csv", 0)
        write_capture(job / "recordings/two.csv", 1)
        return job


def write_capture(path, seed, rows=400, cell=None):
    """Standstill, a little noise; `cell` replaces the value of a row's second column."""
    draw = random.Random(seed)
    lines = ["time_s,position_a_mm,position_b_mm,force_a_n,force_b_n"]
    for row in range(rows):
        values = [f"{row * 1e-3:.3f}"] + [f"{draw.gauss(0, 1e-3):.6f}" for _ in range(4)]
        if cell is not None and row % 7 == 3:
            values[1 + row % 4] = cell
        lines.append(",".join(values))
    path.write_text("\n".join(lines) + "\n")


def hashes(job):
    return {name: hashlib.sha256((job / name).read_bytes()).hexdigest() for name in ORIGINALS if (job / name).exists()}


def journal_troubles(path):
    """The chain, computed again from docs/formats.md, independently of the program."""
    if not path.exists() or path.stat().st_size == 0:
        return []
    with contextlib.closing(sqlite3.connect(path)) as base:
        if base.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
            return ["integrity_check"]
        if not base.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]:
            return []
        previous, found = "0" * 64, []
        rows = base.execute("SELECT number, time, kind, body, previous, hash FROM entry ORDER BY number")
        for place, (number, when, kind, body, before, digest) in enumerate(rows, 1):
            text = f"{number}\n{when}\n{kind}\n{before}\n{body}"
            if number != place or before != previous or hashlib.sha256(text.encode()).hexdigest() != digest:
                found.append(f"entry {number}")
            previous = digest
        return found


def half_written(folder):
    """Visible files that are not whole by their own form."""
    found = []
    for path in folder.rglob("*"):
        if not path.is_file() or path.name.startswith(".") or "sqlite" in path.name:
            continue
        text = path.read_bytes().decode(errors="replace")
        try:
            if path.suffix == ".json":
                json.loads(text)
            elif path.suffix == ".toml":
                tomllib.loads(text)
            elif path.suffix == ".html" and not text.rstrip().endswith("</html>"):
                found.append(path.name)
            elif path.suffix in (".st", ".csv", ".txt") and not text.endswith("\n"):
                found.append(path.name)
        except ValueError:
            found.append(path.name)
    return found


def look(bench, job, before, what):
    """What must hold after every fault. The program looks first: it must cope with what it finds."""
    opened = bench.run("history", job, "--json")
    if opened.returncode != 0:
        note(f"{what}: the job does not open (exit {opened.returncode})", opened.stderr)
    if job.joinpath("machine.toml").exists() and hashes(job) != before:
        note(f"{what}: originals changed")
    if found := journal_troubles(job / "journal.sqlite"):
        note(f"{what}: journal", str(found))
    if found := half_written(job):
        note(f"{what}: half written", str(found))


# --- kill -9 ---------------------------------------------------------------------------------------------------------

def commands_for(job, scratch):
    """Every command, and the folder that it writes to where that is not the job."""
    return {
        "new": (["new", scratch], True),
        "demo": (["demo", scratch], True),
        "simulate": (["simulate", job, "--run", "standstill", "--run", "push", "--into", scratch], True),
        "commission": (["commission", job], False),
        "commission apart": (["commission", job, "--results", scratch], True),
        "report": (["report", job], False),
        "next": (["next", job], False),
        "ready": (["ready", job, "--sheet"], False),
        "export": (["export", job, "--form", "si", "--to", job / "si.txt"], False),
        "history": (["history", job, "--verify"], False),
        "rehearse": (["rehearse", job], False),
        "serve": (["serve", job], False),
    }


def duration_s(bench, words):
    begun = time.monotonic()
    try:
        bench.run(*words, timeout=2 if words[0] == "serve" else 300)
    except subprocess.TimeoutExpired:
        return 0.5
    return time.monotonic() - begun


def kill_once(bench, words, delay_s):
    child = subprocess.Popen([bench.program, *map(str, words)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                             env=environment(), cwd=bench.folder, start_new_session=True)
    try:
        child.wait(delay_s)
        return False
    except subprocess.TimeoutExpired:
        child.send_signal(signal.SIGKILL)
        child.wait()
        return True


def kills(bench, count, draw):
    job = bench.tiny_job("killed")
    bench.run("commission", job)  # so that there is something to spoil
    before = hashes(job)
    scratch = bench.folder / "scratch"
    commands = commands_for(job, scratch)
    if count < 100:
        del commands["demo"]  # takes seconds each time
    lasts, done, hit = {}, 0, dict.fromkeys(commands, 0)
    for name, (words, _) in commands.items():
        lasts[name] = duration_s(bench, words)
        shutil.rmtree(scratch, ignore_errors=True)
    while done < count:
        for name, (words, apart) in commands.items():
            last = lasts[name]
            # half of them late, where most commands write
            delay = draw.uniform(0, last) if draw.random() < 0.5 else draw.uniform(0.7 * last, 1.05 * last)
            killed = kill_once(bench, words, delay)
            done += killed
            hit[name] += killed
            look(bench, job, before, f"{name} killed after {delay * 1e3:.1f} ms")
            if apart and scratch.exists():
                if found := half_written(scratch):
                    note(f"{name}: half written", str(found))
                if (found := journal_troubles(scratch / "journal.sqlite")):
                    note(f"{name}: journal", str(found))
                if name in ("new", "simulate") and (scratch / "machine.toml").exists():
                    again = bench.run("next", scratch)
                    if again.returncode > 2:
                        note(f"{name}: what it left is no job", again.stderr)
                shutil.rmtree(scratch)
    last = bench.run("commission", job)
    left = [p.name for p in job.rglob(".*") if p.is_file()]
    if last.returncode > 2 or left:
        note("after all kills", f"exit {last.returncode}, left behind {left}\n{last.stderr}")
    return f"{done} kills: " + ", ".join(f"{name} {n}" for name, n in hit.items())


# --- disk --------------------------------------------------------------------------------------------------------------

def full_disk(bench, _count, _draw):
    """A tmpfs that fills up at many sizes, so that the write that fails is each of them in turn."""
    place = bench.folder / "small"
    place.mkdir()
    tried = 0
    template = bench.tiny_job("template")
    for kib in (4, 8, 16, 24, 40, 64, 80, 96, 112, 128, 160, 192, 256, 320):
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kib}k", "tmpfs", place], capture_output=True)
        if mounted.returncode != 0:
            return "skipped: mounting a small disk is not permitted here"
        try:
            for words in (["commission", template, "--results", place], ["export", template, "--results", place]):
                run = bench.run(*words)
                tried += 1
                if run.returncode > 3 or run.returncode < 0:
                    note(f"{words[0]} on {kib} KiB: exit {run.returncode}", run.stderr)
                if run.returncode == 3 and "full disk" not in run.stderr + run.stdout:
                    note(f"{words[0]} on {kib} KiB does not name the full disk", run.stderr)
            if found := half_written(place) + journal_troubles(place / "journal.sqlite"):
                note(f"{kib} KiB", str(found))
            if left := [p.name for p in place.rglob(".*")]:
                note(f"{kib} KiB leaves", str(left))
        finally:
            subprocess.run(["umount", place], check=True)
    return f"{tried} runs on disks of 4 to 320 KiB"


def read_only(bench, _count, _draw):
    job = bench.tiny_job("locked")
    bench.run("commission", job)
    before = hashes(job)
    if os.getuid() == 0:
        if subprocess.run(["mount", "--bind", job, job], capture_output=True).returncode != 0:
            return "skipped: neither a plain user nor allowed to mount"
        subprocess.run(["mount", "-o", "remount,ro,bind", job], check=True)
    else:
        for path in [job, job / "recordings", job / "results"]:
            path.chmod(0o555)
    try:
        for words, wanted in ((["commission", job], 3), (["next", job], None), (["report", job], 3),
                              (["history", job], 0), (["commission", job, "--results", bench.folder / "apart"], None),
                              (["simulate", job], 3)):
            run = bench.run(*words)
            if run.returncode > 3 or run.returncode < 0 or wanted not in (None, run.returncode):
                note(f"read-only: {words[0]} exit {run.returncode}", run.stderr)
        look(bench, job, before, "read-only")
    finally:
        if os.getuid() == 0:
            subprocess.run(["umount", job], check=True)
        else:
            for path in [job, job / "recordings", job / "results"]:
                path.chmod(0o755)
    return "6 commands"


def restless_files(bench, count, draw):
    """A capture that vanishes, grows, shrinks or is replaced while it is read."""
    job = bench.tiny_job("restless")
    capture = job / "recordings/three.csv"
    before, stop, rounds = hashes(job), threading.Event(), max(6, count // 20)

    def disturb():
        while not stop.is_set():
            write_capture(capture, 3, rows=draw.choice((0, 1, 5, 4000)))
            with open(capture, "a") as more:
                more.write("0.5,1,2")
            time.sleep(draw.uniform(0, 0.004))
            capture.unlink()
            time.sleep(draw.uniform(0, 0.004))

    worker = threading.Thread(target=disturb)
    worker.start()
    for _ in range(rounds):
        for words in (["commission", job], ["next", job], ["history", job, "--verify"]):
            run = bench.run(*words)
            if run.returncode > 3 or run.returncode < 0:
                note(f"restless file: {words[0]} exit {run.returncode}", run.stderr)
    stop.set()
    worker.join()
    look(bench, job, before, "restless file")
    return f"{3 * rounds} runs"


def two_at_once(bench, count, _draw):
    job = bench.tiny_job("shared")
    before, refused, rounds = hashes(job), 0, max(4, count // 25)
    for _ in range(rounds):
        both = [subprocess.Popen([bench.program, "commission", str(job)], stdout=subprocess.DEVNULL,
                                 stderr=subprocess.PIPE, env=environment()) for _ in range(3)]
        for one in both:
            error = one.communicate()[1]
            refused += one.returncode == 3
            if one.returncode > 3 or one.returncode < 0 or (one.returncode == 3 and b"another process" not in error):
                note(f"two at once: exit {one.returncode}", error.decode())
    look(bench, job, before, "two at once")
    entries = len(json.loads(bench.run("history", job, "--json").stdout)["entries"])
    if entries != 3 * rounds - refused:
        note("two at once", f"{entries} entries of {3 * rounds} runs, {refused} refused")
    return f"{3 * rounds} runs, {refused} told to wait, {entries} entries"


# --- time, places, numbers ---------------------------------------------------------------------------------------------

def jumping_clock(bench, _count, _draw):
    """Entries keep their order by number, whatever the clock says. Sets the clock only inside a time namespace's stead:
    a journal whose last entry lies in the future is what a clock set back leaves."""
    job = bench.tiny_job("clock")
    bench.run("commission", job)
    before = hashes(job)
    with contextlib.closing(sqlite3.connect(job / "journal.sqlite")) as base, base:
        kind, body, previous = base.execute("SELECT kind, body, hash FROM entry ORDER BY number DESC").fetchone()
        for number, when in ((2, "2099-01-01T00:00:00Z"), (3, "1970-01-01T00:00:00Z")):
            digest = hashlib.sha256(f"{number}\n{when}\n{kind}\n{previous}\n{body}".encode()).hexdigest()
            base.execute("INSERT INTO entry VALUES (?,?,?,?,?,?)", (number, when, kind, body, previous, digest))
            previous = digest
    for path in job.rglob("*"):
        os.utime(path, (4e9, 4e9))  # files from the future
    for words in (["commission", job], ["history", job], ["history", job, 1, 3], ["history", job, "--verify"]):
        run = bench.run(*words)
        if run.returncode > 1:
            note(f"clock: {' '.join(map(str, words[2:])) or words[0]} exit {run.returncode}", run.stdout + run.stderr)
    look(bench, job, before, "clock")
    numbers = [e["number"] for e in json.loads(bench.run("history", job, "--json").stdout)["entries"]]
    if sorted(numbers) != [1, 2, 3, 4]:
        note("clock", f"entries {numbers}")
    return "entries of 2099 and 1970, files from the future"


def comma_locale(bench, _count, _draw):
    """The same bytes under a locale that writes 3,14; the locale is built into the folder where the system lacks it."""
    built = bench.folder / "locales"
    built.mkdir()
    if shutil.which("localedef") is None:
        return "skipped: no localedef"
    subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", built / "de_DE.UTF-8"], capture_output=True)
    if not (built / "de_DE.UTF-8").exists():
        return "skipped: the system has no source of de_DE"
    env = {"LOCPATH": str(built), "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}
    if subprocess.run([sys.executable, "-c", "import locale; locale.setlocale(locale.LC_ALL, ''); "
                       "assert locale.localeconv()['decimal_point'] == ','"], env={**os.environ, **env}).returncode != 0:
        return "skipped: the locale was built but does not take effect"
    job = bench.tiny_job("comma")
    bench.run("commission", job)  # the guess of recordings.toml, which is an input from now on
    texts = []
    for extra in ({}, env):
        run = bench.run("commission", job, env=extra)
        table = bench.run("rehearse", job, "--json", env=extra).stdout
        texts.append((run.returncode, (job / "results/result.json").read_bytes(), table))
    if texts[0] != texts[1]:
        note("decimal comma: other results")
    return "result.json and the table of rehearse the same to the byte"


def odd_numbers(bench, _count, _draw):
    """NaN, infinities and giants in every column, and in machine.toml."""
    words = ("nan", "NaN", "inf", "-inf", "1e308", "-1e308", "1e-320", "1e999", "", "0x1p3", "1,5", "+7", "--3", "9" * 400)
    tried = 0
    for cell in words:
        job = bench.tiny_job(f"odd{tried}")
        write_capture(job / "recordings/two.csv", 1, cell=cell)
        for command in ("commission", "next"):
            run = bench.run(command, job)
            tried += 1
            if run.returncode > 3 or run.returncode < 0:
                note(f"cells '{cell[:9]}': {command} exit {run.returncode}", run.stderr)
        results = job / "results/result.json"
        if results.exists() and re.search(r"\b(nan|inf(inity)?)\b", re.sub(r'"(\\.|[^"\\])*"', '""', results.read_text()), re.I):
            note(f"cells '{cell[:9]}': result.json holds a number that is none")
        shutil.rmtree(job)
    for value in ("nan", "inf", "-inf", "1e308", "-1.0", "0.0", '"nan m"', '"inf m"', '"1e400 m"', "[]", "{}"):
        job = bench.tiny_job(f"odd{tried}")
        (job / "machine.toml").write_text(f"span = {value}\n")
        run = bench.run("commission", job)
        tried += 1
        if run.returncode > 3 or run.returncode < 0:
            note(f"span = {value}: exit {run.returncode}", run.stderr)
        shutil.rmtree(job)
    return f"{tried} runs"


def short_captures(bench, _count, _draw):
    for rows in (0, 1, 2, 3, 5, 9):
        job = bench.tiny_job(f"short{rows}")
        for name in ("one", "two"):
            write_capture(job / f"recordings/{name}.csv", 0, rows=rows)
        before = hashes(job)
        for command in ("commission", "next", "report", "rehearse"):
            run = bench.run(command, job)
            if run.returncode > 3 or run.returncode < 0:
                note(f"{rows} samples: {command} exit {run.returncode}", run.stderr)
        look(bench, job, before, f"{rows} samples")
    return "captures of 0, 1, 2, 3, 5 and 9 samples"


def large_capture(bench, gigabytes):
    """Peak memory (ru_maxrss) of a commission with one capture of so many GB."""
    job = bench.tiny_job("large")
    rows = "".join(f"{{t}}{k:03d},0.001{k % 10},0.0012,{k % 7}.5,1.25\n" for k in range(1000))
    with open(job / "recordings/large.csv", "w") as out:
        out.write("time_s,position_a_mm,position_b_mm,force_a_n,force_b_n\n")
        second = 0
        while out.tell() < gigabytes * 1e9:
            out.write(rows.replace("{t}", f"{second}."))
            second += 1
    size = (job / "recordings/large.csv").stat().st_size
    begun = time.monotonic()
    child = subprocess.Popen([bench.program, "commission", str(job)], env=environment(), stdout=subprocess.PIPE,
                             stderr=subprocess.STDOUT)
    text = child.stdout.read().decode(errors="replace")
    _, status, use = os.wait4(child.pid, 0)
    code = os.waitstatus_to_exitcode(status)
    if code > 3 or code < 0:
        note(f"{gigabytes} GB: exit {code}", text[-2000:])
    shutil.rmtree(job)
    return (f"{size / 1e9:.2f} GB, {second * 1000} rows: exit {code}, peak {use.ru_maxrss / 1048576:.2f} GiB, "
            f"{use.ru_utime + use.ru_stime:.0f} s of processor, {time.monotonic() - begun:.0f} s")


PARTS = {"kills": kills, "full_disk": full_disk, "read_only": read_only, "restless_files": restless_files,
         "two_at_once": two_at_once, "jumping_clock": jumping_clock, "comma_locale": comma_locale,
         "odd_numbers": odd_numbers, "short_captures": short_captures}


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program", type=os.path.abspath)
    parser.add_argument("folder")
    parser.add_argument("--kills", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=list(PARTS))
    parser.add_argument("--large-gb", type=float, default=0)
    asked = parser.parse_args()
    print(f"seed {asked.seed}")
    bench = Bench(asked.program, asked.folder)
    for name in asked.only:
        told = PARTS[name](bench, asked.kills, random.Random(asked.seed))
        print(f"{name}: {told}", flush=True)
    if asked.large_gb > 0:
        print(f"large_capture: {large_capture(bench, asked.large_gb)}", flush=True)
    print(f"faults: {len(troubles)} broken")
    return 1 if troubles else 0


if __name__ == "__main__":
    sys.exit(main())
