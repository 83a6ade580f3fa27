"""kill -9 at random moments of every command."""
import shutil
import signal
import subprocess
import time

from aftermath import half_written, journal_troubles, look
from job_bench import environment, hashes, note


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
