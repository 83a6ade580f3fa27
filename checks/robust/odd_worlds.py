"""Clocks that jump, a locale with decimal commas, numbers and lengths that no capture should have, and a huge one."""
import contextlib
import hashlib
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import time

from aftermath import look
from job_bench import environment, hashes, note, write_capture


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
