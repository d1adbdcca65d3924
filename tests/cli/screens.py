#!/usr/bin/env python3
"""What a user sees on a terminal of 80 columns: every verb, on every example, and every help page.

    screens.py [--show | --list] [BIN]      BIN: the command (default: tripwright on the path)

No line is wider than 80 columns or ends in blanks; no table is broken at a blank instead of between
its columns (seen on a terminal so wide that nothing is broken); no figure is nan, inf, minus nothing,
or so small or large that it has left physics. Of a verb without a line here the screens are those
that its case files hold. What another program reads (--json, --csv, a motion program) is not a
screen. --show prints the screens, --list their commands. TW_PROVE=1 adds the runs that take long.
"""
import fcntl, glob, os, pty, re, shlex, struct, subprocess, sys, tempfile, termios
from concurrent.futures import ThreadPoolExecutor

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
WIDTH = 80
ENVIRONMENT = dict(os.environ, TRIPWRIGHT_PARTS="parts", NO_COLOR="1", LC_ALL="C.UTF-8", COLUMNS=str(WIDTH))
# verbs of a design; {f} is the file
DESIGN = """check {f}
check --all {f}
check --quick {f}
disc {f} --at 2mm,5mm
circuit {f}
seat {f}
seat --directions {f}
touch {f}
touch --second {f}
touch --feeds {f}
touch --crash {f}
touch --false-trips {f}
expect {f}
suspect {f} --read {sound}
drivers {f}
vary {f} --field stylus.reach=20mm..40mm --points 3
spread --builds 8 {f}
remedy {f} --budget 60
export --dimensions {f}"""
# on one design
ONE = """suspect {one} --read rest_node=10mV
suspect {plate} --read rest_node=10mV
vary {one} --field stylus.reach=20mm..40mm --field preload.force=1N..4N --points 3
report {one} -o {tmp}/one.html
pack {one} --out {tmp}/one.zip"""
# a unit that fails is compared with every value made wrong in turn
LONG = """suspect {f} --read rest_node=10mV
drivers --all {f}
remedy {f}
suspect {f} --read weight_side=none"""
# designs beside each other: two, and all of them, which no table holds side by side
PAIR = """compare {all}
compare {two}
compare --builds 6 {two}
compare --all {two}
compare {one} --field preload.force=1.5N,2N,2.5N,3N,3.5N,4N,4.5N"""
# the bench: recorded tables as the guide uses them
BENCH = """repeat {r}/controller.log --lines "TRIP n=[0-9]+ X(-?[0-9.]+)" --reading "#1:mm"
repeat {r}/touches.csv --reading x_mm --group side --require "2s <= 2 um"
repeat {r}/feeds.csv --reading error_um --feed feed_mm_min --foreseen {one}
form circle {r}/ring.csv --columns x_mm,y_mm --harmonics 6 --test ring --diameter "50.0012 mm" \
--tip-diameter "5.99009 mm"
form minimum-zone {r}/ring.csv --columns x_mm,y_mm
form line {r}/ring.csv --columns x_mm,y_mm
budget {r}/ring_budget.txt --simulate --trials 100000 --lower 5.98 --upper 6.00
gauge {r}/mountings.csv --reading diameter_mm --part part --operator mounting --tolerance "40 um"
gauge {r}/mountings.csv --reading diameter_mm --part part --operator mounting --ranges
gauge {r}/days.csv --reading width_mm --day day --run run
tram {r}/runout_tip.csv --angle spindle_deg --reading dial_um --screws radial \
--at 0deg,90deg,180deg,270deg --pitch "0.5 mm"
tram {r}/runout_tip.csv --angle spindle_deg --reading dial_um --second {r}/runout_up.csv \
--height "15 mm" --drop "60 mm"
tip {r}/ring.csv --columns x_mm,y_mm --feature ring --size "50.0012 mm" --size-u "0.15 um" \
--stylus "steel 1.5 x 32" --feed "60 mm/min" --approach "3 mm" --delay-from {r}/feeds.csv --offset-from {r}/centres.csv --ball "6 mm" -o {tmp}/tip.csv
program repeat --at "100mm,50mm,-20mm" --azimuth 0 --tip-diameter "6 mm" --top "-5 mm" \
--clearance "10 mm" --overtravel "3 mm" --deceleration "0.5 m/s2" --words {r}/mill.words \
-o {tmp}/repeat.ngc
fields
fields parts
fields processes
fields requirements
parts
parts discs"""
# waits for a browser, its one line is the address; prints a design file
WITHOUT_SCREEN = {"serve", "new"}

NUMBER = r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?"


def unphysical(line):
    """What no figure on a screen may look like, or nothing."""
    found = re.search(r"(?i)(?<![\w/.-])[-+]?(nan|inf)(?![\w/.-])", line)
    if found:
        return found.group(0)
    for figure in re.findall(NUMBER, re.sub(r"\+\S+( \w+)?/-0\b", "", line)):  # the form +a/-b of a tolerance
        if re.fullmatch(r"-0(\.0*)?", figure):
            return figure
        exponent = re.search(r"[eE]([-+]?\d+)$", figure)
        if exponent and abs(int(exponent.group(1))) > 12:
            return figure
    found = re.search(r"\d [fazy][mNV]\b", line)
    return found.group(0) if found else None


def faults(text):
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > WIDTH:
            yield number, f"{len(line)} columns", line
        if line != line.rstrip():
            yield number, "blanks at the end", line
        if unphysical(line):
            yield number, f"figure {unphysical(line)}", line


def verbs_of(binary):
    text = subprocess.run([binary, "--completion"], capture_output=True, text=True, check=True).stdout
    return re.search(r'local verbs="([^"]*)"', text).group(1).split()


def recorded(verb):
    """What a verb that has no line above prints for people in its case files: (command, text)."""
    for path in sorted(glob.glob(os.path.join(ROOT, "tests", "cli", "*.case"))):
        text = open(path, encoding="utf-8").read()
        for command, lines in re.findall(r"^\$ tripwright (.+)\n((?:[|!#].*\n)*)= \d+", text, re.M):
            if command.startswith(verb + " ") and not re.search(r"--(json|csv|ids|schema)", command):
                yield command, "\n".join(line[2:] for line in lines.splitlines() if line.startswith("|"))


def sound_reading(binary, design):
    """A reading that the bench card of this design calls right."""
    done = subprocess.run([binary, "expect", "--csv", design], cwd=ROOT, env=ENVIRONMENT, capture_output=True,
                          text=True, check=True)
    row = next(line.split(",") for line in done.stdout.splitlines() if line.startswith("rest_node,"))
    return f"rest_node={row[5] or row[1]}V"


def commands(binary, tmp):
    found = sorted(glob.glob(os.path.join(ROOT, "examples", "*.yaml")))
    designs = [os.path.relpath(f, ROOT) for f in found if not f.endswith("unit-07.yaml")]  # based on another
    words = {"all": " ".join(designs), "two": " ".join(designs[1:3]), "one": designs[1], "tmp": tmp,
             "plate": "examples/plate-sizer.yaml",
             "r": "examples/recordings"}
    each = DESIGN.splitlines() + (LONG.splitlines() if os.environ.get("TW_PROVE") else [])
    sound = {f: sound_reading(binary, f) for f in designs}
    listed = [line.format(f=f, sound=sound[f]) for f in designs for line in each]
    listed += [line.format(**words) for line in "\n".join((ONE, PAIR, BENCH)).splitlines()]
    return listed + ["--help"] + [f"{verb} --help" for verb in verbs_of(binary)]


def without_line(binary, listed):
    return sorted(set(verbs_of(binary)) - {line.split()[0] for line in listed if "--help" not in line} - WITHOUT_SCREEN)


def screen(binary, command):
    done = subprocess.run([binary] + shlex.split(command), cwd=ROOT, env=ENVIRONMENT, stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=300)
    return done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8")


def on_wide_terminal(binary, command):
    ours, its = pty.openpty()
    fcntl.ioctl(its, termios.TIOCSWINSZ, struct.pack("HHHH", 50, 500, 0, 0))
    child = subprocess.Popen([binary] + shlex.split(command), cwd=ROOT, env=ENVIRONMENT,
                             stdin=subprocess.DEVNULL, stdout=its, stderr=subprocess.DEVNULL)
    os.close(its)
    parts = []
    try:
        while part := os.read(ours, 65536):
            parts.append(part)
    except OSError:  # the other end is closed
        pass
    os.close(ours)
    child.wait()
    return b"".join(parts).decode("utf-8").replace("\r\n", "\n")


def broken_tables(text):
    """Rows that are cut between their figures: a last column of words may go on below itself."""
    lines = text.split("\n")
    for number, line in enumerate(lines, 1):
        cells = re.split(r"  +", line.strip())
        words_last = len(cells[-1].split()) > 3 and len(line) - len(cells[-1]) < WIDTH * 3 // 4
        follows = lines[number] if number < len(lines) else ""
        if len(line) > WIDTH and len(cells) < 3 and re.match(r"[a-z]", follows) and line[0] not in " *":
            yield number, "a sentence cut by hand and again by the terminal", line
        if len(line) > WIDTH and len(cells) > 3 and all(len(c) < 40 for c in cells[:-1]) and not words_last:
            yield number, "table wider than the terminal", line


def main():
    wanted = [a for a in sys.argv[1:] if a.startswith("--")]
    binary = ([a for a in sys.argv[1:] if not a.startswith("--")] + ["tripwright"])[0]
    bad = 0
    with tempfile.TemporaryDirectory() as tmp:
        listed = commands(binary, tmp)
        if "--list" in wanted:
            print("\n".join(listed))
            return 0
        slow = ("suspect", "remedy", "spread", "drivers", "report", "pack")
        both = lambda command: (screen(binary, command),
                                "" if command.startswith(slow) else on_wide_terminal(binary, command))
        with ThreadPoolExecutor(max_workers=2) as pool:
            results = list(pool.map(both, listed))
        for command, ((code, out, err), wide) in zip(listed, results):
            command = command.replace(tmp, "%TMP%")
            if "--show" in wanted:
                print(f"$ tripwright {command}\n{out}", end="")
            # 3: the verb is not for this kind of design, and says so in a message
            if code not in (0, 1, 3) or (code != 3 and not out.strip() and not err.strip()):
                print(f"{command}: exit {code} {err.strip()}")
                bad += 1
            for number, what, line in list(faults(out)) + list(broken_tables(wide)):
                print(f"{command}: line {number}: {what}: {line}")
                bad += 1
    for verb in without_line(binary, listed):
        runs = list(recorded(verb))
        for command, text in runs or [(f"{verb}: no run of it is known", " ")]:
            for number, what, line in faults(text):
                print(f"{command}: line {number}: {what}: {line}")
                bad += 1
    print(f"{len(listed)} screens, {bad} faults")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
