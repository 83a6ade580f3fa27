#!/usr/bin/env python3
"""One page from a bench's log: every ratio with its goal. Usage: page.py LOG; writes it beside the log as page.txt."""
import pathlib
import platform
import sys


def processor():
    try:
        lines = pathlib.Path("/proc/cpuinfo").read_text().splitlines()
    except OSError:
        return platform.processor()
    models = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return f"{len(models)} x {models[0]}" if models else platform.machine()


log = pathlib.Path(sys.argv[1])
rows = [line.split("|")[1:] for line in log.read_text(errors="replace").splitlines() if line.startswith("goal|")]
page = [f"Ratios to references of the same run; {processor()}", ""]
page += [f"{row:<8}{what:<56}{measured:>9}  {goal:<14} {met}" for row, what, measured, goal, met in rows]
missed = [row for row in rows if row[4] != "met"]
page += ["", f"{len(rows) - len(missed)} of {len(rows)} goals met"]
log.with_name("page.txt").write_text("\n".join(page) + "\n")
print("\n".join(page))
