"""The job's files: no room, no right to write, files that change while they are read, two processes at once."""
import json
import os
import subprocess
import threading
import time

from aftermath import half_written, journal_troubles, look
from job_bench import environment, hashes, note, write_capture


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
