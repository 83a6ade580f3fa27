"""What must hold after every fault: the job opens, its journal is whole, nothing is half written, originals as they were."""
import contextlib
import hashlib
import json
import sqlite3
import tomllib

from job_bench import hashes, note


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
