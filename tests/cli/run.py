#!/usr/bin/env python3
"""Command-line cases: exact text, numbers to their last printed digit, exit code.

A case file holds one or more runs:

    $ tripwright check examples/pillar-indexer.yaml
    | expected line of the standard output
    ! expected line of the standard error
    = 0

Lines that start with # are comments. `<command` before the command's words is not special: the
words are split as a shell would, with %BUILD% and %TMP% replaced. Numbers may differ by one unit of
their last printed digit (another library version rounds differently); everything else is exact.
`run.py --update FILES` writes what the program prints now; look at the difference before keeping it.
"""
import os, re, shlex, subprocess, sys, tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
NUMBER = re.compile(r"(?<![A-Za-z0-9_.])[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


def unit_of_last_digit(text):
    mantissa, _, exponent = text.lower().partition("e")
    places = len(mantissa.partition(".")[2])
    return 10.0 ** (int(exponent or 0) - places)


def same(expected, got):
    if expected == got:
        return True
    if NUMBER.sub("0", expected) != NUMBER.sub("0", got):
        return False
    for a, b in zip(NUMBER.findall(expected), NUMBER.findall(got)):
        if "." not in a and "e" not in a.lower():
            if a != b:
                return False
        elif abs(float(a) - float(b)) > 1.01 * max(unit_of_last_digit(a), 1e-9 * abs(float(a))):
            return False
    return True


def parse(path):
    runs = []
    for number, line in enumerate(open(path, encoding="utf-8"), 1):
        line = line.rstrip("\n")
        if line.startswith("$ "):
            runs.append({"command": line[2:], "out": [], "err": [], "code": 0, "line": number, "before": []})
        elif line.startswith("|"):
            runs[-1]["out"].append(line[2:])
        elif line.startswith("!"):
            runs[-1]["err"].append(line[2:])
        elif line.startswith("= "):
            runs[-1]["code"] = int(line[2:])
        elif line.startswith("#") or not line:
            pass
        else:
            sys.exit(f"{path}:{number}: a case line starts with $ | ! = or #")
    return runs


def execute(command, binary, tmp):
    words = [w.replace("%TMP%", tmp) for w in shlex.split(command)]
    if words[0] == "tripwright":
        words[0] = binary
    path = os.path.dirname(binary) + os.pathsep + os.environ["PATH"]  # for sh -c "tripwright ..."
    env = dict(os.environ, TRIPWRIGHT_PARTS="parts", NO_COLOR="1", LC_ALL="C", PATH=path,
               TRIPWRIGHT_STATE=os.path.join(tmp, "state"))
    done = subprocess.run(words, cwd=ROOT, env=env, capture_output=True, stdin=subprocess.DEVNULL, timeout=300)
    clean = lambda raw: [l.rstrip() for l in raw.decode("utf-8", "replace").replace(tmp, "%TMP%").splitlines()]
    return clean(done.stdout), clean(done.stderr), done.returncode


def differences(kind, expected, got):
    expected = [e.rstrip() for e in expected]
    for i in range(max(len(expected), len(got))):
        e = expected[i] if i < len(expected) else None
        g = got[i] if i < len(got) else None
        if e is None or g is None or not same(e, g):
            yield f"  {kind} line {i + 1}\n    expected: {e}\n    got:      {g}"
            return


def update(path, binary):
    kept = [l.rstrip("\n") for l in open(path, encoding="utf-8")]
    lines = []
    with tempfile.TemporaryDirectory() as tmp:
        for line in kept:
            if line.startswith(("|", "!", "= ")):
                continue
            lines.append(line)
            if line.startswith("$ "):
                out, err, code = execute(line[2:], binary, tmp)
                lines += [("| " + o).rstrip() for o in out] + [("! " + e).rstrip() for e in err] + [f"= {code}"]
    open(path, "w", encoding="utf-8").write("\n".join(lines) + "\n")


def main():
    arguments = sys.argv[1:]
    renew = "--update" in arguments
    arguments = [a for a in arguments if a != "--update"]
    binary, files = os.path.abspath(arguments[0]), arguments[1:]
    passed = failed = 0
    for path in files:
        if renew:
            update(path, binary)
            continue
        with tempfile.TemporaryDirectory() as tmp:
            for run in parse(path):
                out, err, code = execute(run["command"], binary, tmp)
                wrong = list(differences("stdout", run["out"], out)) + list(differences("stderr", run["err"], err))
                if code != run["code"]:
                    wrong.append(f"  exit {code}, expected {run['code']}")
                passed, failed = passed + (not wrong), failed + bool(wrong)
                if wrong:
                    print(f"{path}:{run['line']}: $ {run['command']}", *wrong, sep="\n")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


sys.exit(main())
