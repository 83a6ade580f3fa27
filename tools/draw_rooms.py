#!/usr/bin/env python3
"""Draws the picture of docs/architecture.md from the code: rooms and floors as src/CMakeLists.txt has them.

Usage: draw_rooms.py [--check] SOURCE_DIR; with --check nothing is written, and an old picture is an error.
"""
import pathlib
import re
import sys
import textwrap

BEGIN, END = "<!-- drawn by tools/draw_rooms.py -->\n", "<!-- end of the picture -->\n"


def floors(text):
    """[(number, what, [rooms])] in the order of the file, lowest first."""
    out, lists = [], {}
    for line in text.splitlines():
        floor = re.match(r"# floor (\d+): (.*)", line)
        names = re.match(r"set\((\w+) (.*)\)", line)
        room = re.match(r"\s*room\((\S+)", line)
        if floor:
            out.append((int(floor[1]), floor[2], []))
        elif names:
            lists[names[1]] = names[2].split()
        elif room and room[1].startswith("${"):
            out[-1][2].extend(lists["consulting"])  # the one loop: foreach(name ${consulting})
        elif room and out:
            out[-1][2].append(room[1])
    return out


def picture(rows):
    lines = []
    for number, what, rooms in reversed(rows):
        named = textwrap.wrap("  ".join(rooms), 44, break_on_hyphens=False)
        said = textwrap.wrap(what, 64)
        for i in range(max(len(named), len(said))):
            left = named[i] if i < len(named) else ""
            right = said[i] if i < len(said) else ""
            lines.append(f" {number if i == 0 else ' '}   {left:<46}{right}".rstrip())
        lines.append("     " + "-" * 40)
    return "```\n" + "\n".join(lines[:-1]) + "\n```\n"


def main():
    check = "--check" in sys.argv
    root = pathlib.Path(sys.argv[-1])
    rows = floors((root / "src/CMakeLists.txt").read_text())
    drawn = {room for _, _, rooms in rows for room in rooms}
    there = {p.name for p in (root / "src").iterdir() if p.is_dir()}
    if drawn != there:
        sys.exit(f"rooms of src/ and of src/CMakeLists.txt differ: {sorted(drawn ^ there)}")
    page = root / "docs/architecture.md"
    text = page.read_text()
    begin, end = text.index(BEGIN) + len(BEGIN), text.index(END)
    now = text[:begin] + picture(rows) + text[end:]
    if now == text:
        print("picture of the rooms: as the code has them")
    elif check:
        sys.exit("docs/architecture.md shows other rooms than the code has: run tools/draw_rooms.py .")
    else:
        page.write_text(now)


main()
