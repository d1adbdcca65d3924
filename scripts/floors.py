#!/usr/bin/env python3
"""Who includes whom: a room's files may include only headers of rooms in its USES list."""
import glob, os, re, sys

text = open("cmake/floors.cmake").read()
uses = {}
for name, rest in re.findall(r"tw_room\(NAME (\w+)([^)]*)\)", text):
    words = re.search(r"USES ((?:[a-z]+ ?)*)", rest)
    uses[name] = set(words.group(1).split() if words else []) | {name}

# which room a public header belongs to: its own name up to the first underscore, or listed here
belongs = {"documents": "report", "page": "report", "probe": "assess", "measures": "assess", "parts": "design", "choices": "design", "units": "base", "files": "base", "edge": "base", "random": "base", "parallel": "base", "fields": "design", "drawing": "report",
           "tripwright": "cli"}


def room_of(header):
    stem = header.removesuffix(".h").removesuffix(".def")
    return belongs.get(stem) or belongs.get(stem.split("_")[0]) or stem.split("_")[0]


bad = 0
for path in sorted(glob.glob("src/*/*.[ch]") + glob.glob("src/*/*/*.[ch]")):
    room = path.split("/")[1]
    if room not in uses:
        print(f"{path}: the room {room} has no tw_room line")
        bad += 1
        continue
    for number, line in enumerate(open(path, encoding="utf-8"), 1):
        found = re.match(r'#include "tripwright/(?:fields/)?(\w+\.(?:h|def))"', line)
        if found and room_of(found.group(1)) not in uses[room]:
            print(f"{path}:{number}: {room} may not use {found.group(1)}")
            bad += 1
for header in sorted(glob.glob("include/tripwright/*.h")):
    if room_of(os.path.basename(header)) not in uses and os.path.basename(header) != "tripwright.h":
        print(f"{header}: belongs to no room")
        bad += 1
print("floors: in order" if not bad else f"floors: {bad} faults")
sys.exit(1 if bad else 0)
