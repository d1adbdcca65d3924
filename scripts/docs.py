#!/usr/bin/env python3
"""The outputs shown in README.md and docs/guide are those of the program.

    docs.py PROGRAM [--update] FILES

In a fenced block that starts with ```console, a line "$ tripwright ..." is run in the source folder
and the lines behind it must be what it prints (both streams); a line "..." stands for any number of
lines left out. Numbers are compared as the command-line cases compare them. --update writes what is
printed now, keeping as many lines before and after a "..." as there were.
"""
import importlib.util, os, shlex, subprocess, sys, tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
spec = importlib.util.spec_from_file_location("run", os.path.join(ROOT, "tests/cli/run.py"))
sys.argv, arguments = [sys.argv[0], "/bin/true"], sys.argv[1:]
run = importlib.util.module_from_spec(spec)
try:
    spec.loader.exec_module(run)
except SystemExit:
    pass


def printed(command, binary, tmp):
    words = [w.replace("/tmp/", tmp + "/") for w in shlex.split(command)]
    words[0] = binary
    env = dict(os.environ, TRIPWRIGHT_PARTS="parts", NO_COLOR="1", LC_ALL="C",
               TRIPWRIGHT_STATE=os.path.join(tmp, "state"))
    done = subprocess.run(words, cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                          stdin=subprocess.DEVNULL, timeout=300)
    return [l.rstrip() for l in done.stdout.decode("utf-8", "replace").replace(tmp + "/", "/tmp/").splitlines()]


def fits(expected, got):
    if "..." not in expected:
        return len(expected) == len(got) and all(run.same(e, g) for e, g in zip(expected, got))
    cut = expected.index("...")
    head, tail = expected[:cut], expected[cut + 1:]
    return (len(got) >= len(head) + len(tail)
            and all(run.same(e, g) for e, g in zip(head, got))
            and all(run.same(e, g) for e, g in zip(tail, got[len(got) - len(tail):])))


def renewed(expected, got):
    if "..." not in expected:
        return got
    cut = expected.index("...")
    tail = len(expected) - cut - 1
    return got[:cut] + ["..."] + (got[len(got) - tail:] if tail else [])


def main():
    update = "--update" in arguments
    binary, *files = [a for a in arguments if a != "--update"]
    binary = os.path.abspath(binary)
    passed = failed = 0
    for path in files:
        lines = open(path, encoding="utf-8").read().split("\n")
        out, i, inside = [], 0, False
        with tempfile.TemporaryDirectory() as tmp:
            while i < len(lines):
                line = lines[i]
                inside = line.startswith("```console") or (inside and not line.startswith("```"))
                out.append(line)
                i += 1
                if not (inside and line.startswith("$ tripwright")):
                    continue
                expected = []
                while i < len(lines) and not lines[i].startswith(("```", "$ ")):
                    expected.append(lines[i].rstrip())
                    i += 1
                got = printed(line[2:], binary, tmp)
                good = fits(expected, got)
                passed, failed = passed + good, failed + (not good)
                if not good and not update:
                    print(f"{path}: $ {line[2:]}\n  expected: {expected[:6]}\n  got:      {got[:6]}")
                out += renewed(expected, got) if update else expected
        if update:
            open(path, "w", encoding="utf-8").write("\n".join(out))
    print(f"{passed} passed, {failed} failed")
    return 1 if failed and not update else 0


sys.exit(main())
