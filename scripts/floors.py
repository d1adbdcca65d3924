#!/usr/bin/env python3
"""Who stands on whom: between rooms, between the files of one room, and in the page's sources.

    scripts/floors.py [--circles] [FOLDER]

Between rooms (cmake/floors.cmake): a file may include only public headers of rooms in its room's
USES list, private headers of its own room, and nothing by a path (`../room/x.h`).

Within a room: NAME.c and NAME.h are one file. It stands on another where it includes the other's
header or names something the other defines (a function, or a table of constants). A set of files
that all stand on each other is a circle; what they share belongs in a lower file of its own name.
--circles prints every circle with the names that close it.

In web/src (web/floors.txt): a source may import only from lines below its own, and packages that
web/package.json names.
"""
import glob, json, os, re, sys

# which room a public header belongs to: its name up to the first underscore, or as listed here
ROOM_HAS = {
    "base": "units files edge digest random parallel constants text numerics",
    "design": "parts choices fields",
    "assess": "probe measures",
    "report": "documents page drawing",
    "cli": "tripwright",
}
BELONGS = {name: room for room, names in ROOM_HAS.items() for name in names.split()}

NOT_CODE = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'', re.S)
# at the start of a line, not static: `type name(arguments) {` and `const type name... =`
FUNCTION = re.compile(r"^(?!static|typedef|extern|return|else)[A-Za-z_][\w *\n]*?[\s*](\w+)\(([^;{}]*?)\)\s*\{", re.M)
TABLE = re.compile(r"^(?!static|typedef|extern)[A-Za-z_][\w *]*[\s*](\w+)(?:\[[^\]]*\])*\s*=", re.M)


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def stem_of(path):
    return os.path.splitext(os.path.basename(path))[0]


def rooms_of(root):
    """Room -> the rooms it may use, itself among them."""
    uses = {}
    for name, rest in re.findall(r"tw_room\(NAME (\w+)([^)]*)\)", read(f"{root}/cmake/floors.cmake")):
        words = re.search(r"USES ((?:[a-z]+ ?)*)", rest)
        uses[name] = set(words.group(1).split() if words else []) | {name}
    return uses


def files_of(root):
    """Room -> its C files and headers."""
    rooms = {}
    for path in sorted(glob.glob(f"{root}/src/*/**/*.[ch]", recursive=True)):
        rooms.setdefault(os.path.relpath(path, f"{root}/src").split(os.sep)[0], []).append(path)
    return rooms


def room_of(header):
    stem = stem_of(header)
    return BELONGS.get(stem) or BELONGS.get(stem.split("_")[0]) or stem.split("_")[0]


def check_include(room, uses, own, name):
    """Why a file of the room may not write #include "name", or None."""
    if name.startswith("tripwright/"):
        return None if room_of(name) in uses[room] else f"{room} may not use {os.path.basename(name)}"
    if "/" in name:
        return f"{name} goes by a path into a folder; a room shows others only its public header"
    if name in own or name.endswith(".def") or not name.endswith(".h"):
        return None
    return f"{name} is no header of {room}"


def check_rooms(root):
    faults = []
    uses = rooms_of(root)
    for room, paths in files_of(root).items():
        if room not in uses:
            faults.append(f"src/{room}: the room has no tw_room line")
            continue
        own = {os.path.basename(path) for path in paths}
        for path in paths:
            for number, line in enumerate(read(path).splitlines(), 1):
                found = re.match(r'\s*#\s*include\s+"([^"]+)"', line)
                why = found and check_include(room, uses, own, found.group(1))
                if why:
                    faults.append(f"{os.path.relpath(path, root)}:{number}: {why}")
    for header in sorted(glob.glob(f"{root}/include/tripwright/*.h")):
        if room_of(header) not in uses and os.path.basename(header) != "tripwright.h":
            faults.append(f"{os.path.relpath(header, root)}: belongs to no room")
    return faults


def arrows_of(paths):
    """File -> files of the room it stands on -> by which names."""
    defined, words, arrows = {}, {}, {}
    for path in paths:
        stem, text = stem_of(path), read(path)
        arrows.setdefault(stem, {})
        for name in re.findall(r'^#include "([^"/]+)\.h"', text, re.M):
            arrows[stem].setdefault(name, set()).add(f"{name}.h")
        if path.endswith(".c"):
            code = NOT_CODE.sub(" ", re.sub(r"^#.*(?:\\\n.*)*$", "", text, flags=re.M))
            for pattern in (FUNCTION, TABLE):
                defined.update((found.group(1), stem) for found in pattern.finditer(code)
                               if "static" not in found.group(0).split("(")[0].split())
            words.setdefault(stem, set()).update(re.findall(r"[A-Za-z_]\w+", code))
    for stem, used in words.items():
        for name in used:
            if name in defined:
                arrows[stem].setdefault(defined[name], set()).add(name)
        arrows[stem].pop(stem, None)
    for stem in arrows:
        arrows[stem].pop(stem, None)
    return arrows


def circles_of(arrows):
    """The sets of nodes that all reach each other, two or more (Tarjan's walk)."""
    order, low, path, found = {}, {}, [], []

    def walk(node):
        order[node] = low[node] = len(order)
        path.append(node)
        for other in sorted(arrows.get(node, ())):
            if other not in order:
                walk(other)
                low[node] = min(low[node], low[other])
            elif other in path:
                low[node] = min(low[node], order[other])
        if low[node] == order[node]:
            at = path.index(node)
            if len(path) - at > 1:
                found.append(sorted(path[at:]))
            del path[at:]

    for node in sorted(arrows):
        if node not in order:
            walk(node)
    return found


def check_circles(place, arrows, show):
    faults = []
    for circle in circles_of(arrows):
        faults.append(f"{place}: a circle of files: {', '.join(circle)}")
        if show:
            faults += [f"    {a} -> {b}: {' '.join(sorted(arrows[a][b]))}"
                       for a in circle for b in circle if b in arrows[a]]
    return faults


def check_web(root, show):
    """The page: floors, packages, circles."""
    top = f"{root}/web/src"
    if not os.path.isdir(top):
        return []
    faults, arrows = [], {}
    packages = json.loads(read(f"{root}/web/package.json")).get("dependencies", {})
    lines = [line.split("#")[0].split() for line in read(f"{root}/web/floors.txt").splitlines()]
    floor = {name: level for level, names in enumerate(lines) for name in names}
    for path in sorted(glob.glob(f"{top}/**/*.ts", recursive=True)):
        name = os.path.relpath(path, top)[: -len(".ts")]
        arrows[name] = {}
        if name not in floor:
            faults.append(f"web/src/{name}.ts: has no place in web/floors.txt")
        for target in re.findall(r"^(?:import|export)\b[^;]*?from\s+'([^']+)'|^import '([^']+)'", read(path), re.M):
            target = "".join(target)
            if not target.startswith("."):
                if target.split("/")[0] not in packages:
                    faults.append(f"web/src/{name}.ts: imports {target}, which web/package.json does not name")
                continue
            other = os.path.normpath(os.path.join(os.path.dirname(name), target))
            arrows[name].setdefault(other, set()).add("import")
            if not os.path.exists(f"{top}/{other}.ts"):
                faults.append(f"web/src/{name}.ts: imports {target}, which is no source of the page")
            elif floor.get(other, -1) >= floor.get(name, len(lines)):
                faults.append(f"web/src/{name}.ts: stands below {other} and may not import it (web/floors.txt)")
    return faults + check_circles("web/src", arrows, show)


def main():
    show = "--circles" in sys.argv
    folders = [word for word in sys.argv[1:] if not word.startswith("--")]
    root = folders[0] if folders else "."
    faults = check_rooms(root) + check_web(root, show)
    for room, paths in files_of(root).items():
        faults += check_circles(f"src/{room}", arrows_of(paths), show)
    print("\n".join(faults + ["floors: in order" if not faults else "floors: not in order"]))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
