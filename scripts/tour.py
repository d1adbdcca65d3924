#!/usr/bin/env python3
"""Hold docs/develop/tour.md to the code, and draw how a figure travels.

    scripts/tour.py [--check]

In the tour, every row of the table of equations names a section of docs/models, a file and a
function of src: the section must stand in that page and the function be defined in that file. Every
answer of the stranger's questions and every row of what a change costs must name a file that there
is. The picture docs/pictures/figure.svg is made from TRAVEL: each step must be defined where it
says, and be named by the step before it. With --check nothing is written.
"""
import os, re, sys

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..")
TOUR, PICTURE = "docs/develop/tour.md", "docs/pictures/figure.svg"

# (file, function, what it hands on); each function is named in the file of the step before it
TRAVEL = [
    ("src/cli/verb_check.c", "run", "the command line: file and options"),
    ("src/cli/design_in.c", "tw_cli_design", "text of the file, changes, shop, library"),
    ("src/design/read.c", "tw_design_read", "a design: SI, tolerance, origin and place of each value"),
    ("src/assess/assess.c", "tw_assess", "a run: the design with what it is asked for"),
    ("src/assess/probe.c", "tw_probe_new_to_touch", "a probe: disc, stylus, circuit and seat, each solved once"),
    ("src/disc/disc.c", "tw_disc_new", "the disc: bending and charge of a ring load"),
    ("src/seat/from_design.c", "tw_seat_spec_from_design", "the seat in plain numbers"),
    ("src/seat/touch.c", "tw_seat_touch", "one direction: force, travel and charge at the trip"),
    ("src/assess/fill.c", "tw_put", "a measure: number, state, basis, note"),
    ("src/assess/limits.c", "tw_measure_judge", "margins against the requirements"),
    ("src/report/json_check.c", "tw_document_check", "the document that text, page and report print"),
]

def read(path):
    with open(os.path.join(ROOT, path), encoding="utf-8") as file:
        return file.read()


def defines(path, function):
    """Is the function defined in the file, at the start of a line?"""
    return re.search(r"^(?!\s)[\w *]*?\b" + re.escape(function) + r"\([^;{}]*\)\s*\{", read(path), re.M) is not None


def exists(path):
    return os.path.exists(os.path.join(ROOT, path))


def sections_of(page):
    """The headings of a model page by number or name."""
    found = set()
    for line in read(f"docs/models/{page}").splitlines():
        heading = re.match(r"#+ +(?:(\d+[a-z]?)\.? +)?(.*)", line)
        if heading:
            found |= {heading.group(1), heading.group(2)} - {None}
    return found


def rows_under(text, title):
    part = re.search(r"^## " + re.escape(title) + r"\n(.*?)(?=^## |\Z)", text, re.M | re.S)
    return [[cell.strip() for cell in line.strip("|").split("|")]
            for line in (part.group(1).splitlines() if part else [])
            if line.startswith("|") and not re.match(r"\|[-\s|]+\|$", line)][1:]


def check_equations(text):
    faults = []
    rows = rows_under(text, "Where each equation is computed")
    for place, what, path, function in rows:
        page, _, section = place.partition(" ")
        path, function = path.strip("`"), function.strip("`")
        if not exists(f"docs/models/{page}") or section not in sections_of(page):
            faults.append(f"{place}: no such section in docs/models")
        if not exists(path):
            faults.append(f"{place}: there is no {path}")
        elif not defines(path, function):
            faults.append(f"{place}: {function} is not defined in {path}")
    return faults if rows else ["no table of equations"]


def check_paths(text, title, column):
    faults = []
    rows = rows_under(text, title)
    for row in rows:
        for path in re.findall(r"`([^`\s]+/[^`\s]*)`", row[column]):
            if "NAME" not in path and not exists(path):
                faults.append(f"{title}: there is no {path}")
    return faults if rows else [f"no table under {title}"]


def check_travel():
    faults = []
    for i, (path, function, _) in enumerate(TRAVEL):
        if not exists(path) or not defines(path, function):
            faults.append(f"the way of a figure: {function} is not defined in {path}")
            continue
        if i > 0:
            room = os.path.dirname(TRAVEL[i - 1][0])
            callers = [os.path.join(folder, name) for start in {room, "src/assess", "src/cli"}
                       for folder, _, names in os.walk(os.path.join(ROOT, start))
                       for name in names if name.endswith(".c")]
            if not any(re.search(r"\b" + function + r"\(", open(c, encoding="utf-8").read()) for c in callers
                       if os.path.relpath(c, ROOT) != path):
                faults.append(f"the way of a figure: nothing before it calls {function}")
    return faults


def picture():
    """One box a step, room by room, as SVG."""
    high, gap, wide = 34, 10, 620
    colours = {"cli": "#d7e3ee", "design": "#e6e2d3", "assess": "#dcebdc", "report": "#d7e3ee"}
    out = []
    y = 10
    for i, (path, function, what) in enumerate(TRAVEL):
        room = path.split("/")[1]
        out.append(f'<rect x="10" y="{y}" width="{wide}" height="{high}" fill="{colours.get(room, "#f1e4dc")}" stroke="#555"/>')
        out.append(f'<text x="20" y="{y + 15}" font-weight="bold">{room}</text>')
        out.append(f'<text x="90" y="{y + 15}">{os.path.basename(path)}: {function}</text>')
        out.append(f'<text x="90" y="{y + 28}" fill="#444">{what}</text>')
        if i + 1 < len(TRAVEL):
            out.append(f'<path d="M40 {y + high}v{gap - 3}m-4 -4l4 4l4 -4" fill="none" stroke="#555"/>')
        y += high + gap
    head = (f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide + 20}" height="{y}" viewBox="0 0 {wide + 20} {y}" '
            'font-family="sans-serif" font-size="12">\n<title>How a figure travels</title>\n'
            '<rect width="100%" height="100%" fill="#fff"/>\n')
    return head + "\n".join(out) + "\n</svg>\n"


def main():
    text = read(TOUR)
    faults = (check_travel() + check_equations(text) + check_paths(text, "Ten questions of a stranger", 1)
              + check_paths(text, "What a change costs", 2))
    drawn = picture()
    if "--check" in sys.argv:
        if not exists(PICTURE) or read(PICTURE) != drawn:
            faults.append(f"{PICTURE} is not what the code says; run scripts/tour.py")
    elif not faults:
        with open(os.path.join(ROOT, PICTURE), "w", encoding="utf-8") as file:
            file.write(drawn)
    print("\n".join(faults) if faults else "tour: as the code has it")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
