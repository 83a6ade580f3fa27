#!/usr/bin/env python3
"""Breaks the world around the program and looks at what is left.

After each fault: the job opens, the journal's chain is whole, no result is half written, the originals are untouched,
and the exit code is one that docs name (0-3; 4 would be a fault of the program itself).

Usage: faults.py PROGRAM FOLDER [--kills N] [--seed S] [--only NAME ...] [--large-gb G]
Prints one line a part and the seed; exit code 1 where anything broke.
"""
import argparse
import os
import random
import sys

from disk_faults import full_disk, read_only, restless_files, two_at_once
from job_bench import Bench, troubles
from kill_faults import kills
from odd_worlds import comma_locale, jumping_clock, large_capture, odd_numbers, short_captures

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
