"""Small jobs for the program to be broken on, and the list of what broke."""
import hashlib
import pathlib
import random
import shutil
import subprocess


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
