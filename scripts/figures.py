#!/usr/bin/env python3
"""What a change of the program did to the figures of designs.

    figures.py OLD NEW [FILES]      two programs, each with its parts folder beside it as OLD:PARTS

Runs `check --json` of both on each design (the examples when none is named) and prints a Markdown
table of the measures whose value, state or verdict differ by more than a part in a thousand.
"""
import glob, json, os, subprocess, sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
CLOSE = 1e-3  # smaller changes are rounding of another order of sums


def check(program, design):
    binary, _, parts = program.partition(":")
    env = dict(os.environ, TRIPWRIGHT_PARTS=parts or os.path.join(ROOT, "parts"))
    done = subprocess.run([binary, "check", "--json", design], cwd=ROOT, env=env, capture_output=True, text=True)
    return json.loads(done.stdout)["measures"] if done.stdout.startswith("{") else {}


def shown(measure):
    if measure is None:
        return "not there"
    value = measure.get("value")
    if measure.get("state") != "ok" or value is None:
        return measure.get("state", "none").replace("_", " ")
    text = value if isinstance(value, str) else f"{value:.4g} {measure.get('unit', '')}".strip()
    return text + (", not met" if measure.get("met") is False else "")


def differs(a, b):
    if shown(a) == shown(b):
        return False
    if a and b and a.get("state") == b.get("state") == "ok" and a.get("met") == b.get("met"):
        x, y = a.get("value"), b.get("value")
        if isinstance(x, (int, float)) and isinstance(y, (int, float)):
            return abs(x - y) > CLOSE * max(abs(x), abs(y))
    return True


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    old, new, *files = sys.argv[1:]
    files = files or sorted(glob.glob(os.path.join(ROOT, "examples", "*.yaml")))
    print("| design | figure | before | after |\n|---|---|---|---|")
    for design in files:
        before, after = check(old, design), check(new, design)
        for name in list(dict.fromkeys(list(before) + list(after))):
            if differs(before.get(name), after.get(name)):
                stem = os.path.splitext(os.path.basename(design))[0]
                print(f"| {stem} | {name} | {shown(before.get(name))} | {shown(after.get(name))} |")


main()
