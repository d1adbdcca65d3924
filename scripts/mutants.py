#!/usr/bin/env python3
"""mutants.py [NAME...]: breaks the code in the places of tests/mutants/table.txt, one at a time, and
says which test sees it. --list names them; --check only finds each place. --write FILE makes the
table of docs/develop/mutants.md. Works in the tree where it stands, puts each file back, and builds
into build/release. A long count: hours, so it belongs to `make prove`."""
import argparse, os, re, subprocess, sys, time

TABLE = "tests/mutants/table.txt"
FLOORS = re.findall(r"tw_room\(NAME (\w+)", open("cmake/floors.cmake").read())
# these take minutes and look at whole batches and searches: only asked with TW_PROVE=1
SLOW = "suspect|contradictions|remedy|sound_units|coverage"


class Mutant:
    def __init__(self, name, path, why):
        self.name, self.path, self.why, self.old, self.new = name, path, why, "", ""

    def broken(self, text):
        """the file with the fault in it; the place must be there exactly once"""
        if text.count(self.old) != 1:
            sys.exit(f"{TABLE}: {self.name}: the old text is {text.count(self.old)} times in {self.path}")
        return text.replace(self.old, self.new)


def read_table():
    mutants = []
    for number, line in enumerate(open(TABLE, encoding="utf-8"), 1):
        line = line.rstrip("\n")
        if line.startswith("== "):
            mutants.append(Mutant(*[part.strip() for part in line[3:].split("|")]))
        elif line.startswith("-"):
            mutants[-1].old += line[1:] + "\n"
        elif line.startswith("+"):
            mutants[-1].new += line[1:] + "\n"
        elif line and not line.startswith("#"):
            sys.exit(f"{TABLE}:{number}: '== name | file | why', '-old', '+new' or '#'")
    for m in mutants:
        m.old, m.new = m.old[:-1], m.new[:-1]
    return mutants


def run(*command, most=1800):
    """True, and what it printed; a test that never ends has seen the fault as well"""
    try:
        done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=most)
    except subprocess.TimeoutExpired as late:
        return False, (late.stdout or b"").decode(errors="replace") + "\n(no end)"
    return done.returncode == 0, done.stdout


def ctest(pattern):
    """the first test that fails, or None"""
    left_out = [] if os.environ.get("TW_PROVE") == "1" else ["-E", SLOW]
    good, text = run("ctest", "--test-dir", "build/release", "-j", "2", "--stop-on-failure", "-LE", "oracle",
                     "-R", pattern, *left_out)
    if good:
        return None
    failed = re.findall(r"^\s*\d+ - (\S+) \((?!Not Run)", text, re.M)
    return failed[0] if failed else "ctest: " + text.strip().split("\n")[-1]


def cases():
    files = [f for f in sorted(os.listdir("tests/cli")) if f.endswith(".case")]
    files.sort(key=lambda f: f in ("study.case", "spread.case", "suspect.case"))  # the slow ones last
    for f in files:
        good, _ = run("tests/cli/run.py", "build/release/bin/tripwright", f"tests/cli/{f}")
        if not good:
            return f"tests/cli/{f}"
    return None


def hunt(m):
    """who sees it: the tests of its room, then the command line, then those of the rooms above"""
    good, text = run("cmake", "--build", "--preset", "release", "-j", "2")
    if not good:
        return "does not build: " + next((l for l in text.split("\n") if "error" in l), "?")[:120]
    room = m.path.split("/")[1]
    above = "|".join(FLOORS[FLOORS.index(room) + 1:])
    return ctest(rf"\.test_{room}(_|$)") or cases() or ctest(rf"\.test_({above})_") or "nobody"


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("name", nargs="*")
    ask.add_argument("--list", action="store_true")
    ask.add_argument("--check", action="store_true")
    ask.add_argument("--write", metavar="FILE")
    asked = ask.parse_args()
    mutants = [m for m in read_table() if not asked.name or m.name in asked.name]
    rows, alive = [], 0
    for m in mutants:
        text = open(m.path, encoding="utf-8").read()
        broken = m.broken(text)
        if asked.list or asked.check:
            print(f"{m.name:24} {m.path}: {m.why}")
            continue
        began = time.time()
        try:
            open(m.path, "w", encoding="utf-8").write(broken)
            killer = hunt(m)
        finally:
            open(m.path, "w", encoding="utf-8").write(text)
        alive += killer == "nobody"
        rows.append(f"| {m.name} | `{m.path}` | {m.why} | {killer} |")
        print(f"{rows[-1]} {time.time() - began:.0f} s", flush=True)
    if asked.list or asked.check:
        return 0
    print(f"{len(rows)} faults, {len(rows) - alive} seen, {alive} not")
    if asked.write:
        with open(asked.write, "w", encoding="utf-8") as out:
            out.write("| fault | place | what is wrong | first test that sees it |\n|-|-|-|-|\n" + "\n".join(rows) + "\n")
    return 1 if alive else 0


sys.exit(main())
