#!/usr/bin/env python3
"""scripts/floors.py finds what it must: small made houses, one fault each, and one in order."""
import os, subprocess, sys, tempfile

SCRIPT = os.path.join(os.path.dirname(__file__), "..", "..", "scripts", "floors.py")
HOUSE = {
    "cmake/floors.cmake": "tw_room(NAME base LIBS x)\ntw_room(NAME disc USES base LIBS PkgConfig::GSL)\n"
                          "tw_room(NAME seat USES disc base)\n",
    "include/tripwright/disc.h": "double tw_disc(void);\n",
    "include/tripwright/seat.h": "double tw_seat(void);\n",
    "src/disc/disc.c": '#include "tripwright/disc.h"\n#include "rings.h"\ndouble tw_disc(void) {\n  return rings();\n}\n',
    "src/disc/rings.h": "double rings(void);\n",
    "src/disc/rings.c": '#include "rings.h"\ndouble rings(void) {\n  return 1; /* not tw_disc() */\n}\n',
    "web/package.json": '{"dependencies": {"echarts": "1"}}',
    "web/floors.txt": "# ground first\nformat\ndom\nviews/view\npage\n",
    "web/src/format.ts": "export const words = 1;\n",
    "web/src/dom.ts": "import { words } from './format';\nimport * as e from 'echarts/core';\nexport const h = words;\n",
    "web/src/views/view.ts": "import { h } from '../dom';\nexport const view = h;\n",
    "web/src/page.ts": "import { view } from './views/view';\n",
}
# what is changed in the house, and the words floors.py must then say (None: it stays in order)
CASES = [
    ("in order", {}, None),
    ("public header of a room above", {"src/disc/rings.c": '#include "tripwright/seat.h"\n'}, "src/disc/rings.c:1: disc may not use seat.h"),
    ("include by a path", {"src/seat/seat.c": '#include "../disc/rings.h"\n'}, "goes by a path"),
    ("include by a long path", {"src/seat/seat.c": '\n# include "src/disc/rings.h"\n'}, "src/seat/seat.c:2: src/disc/rings.h goes by a path"),
    ("private header of another room", {"src/seat/seat.c": '#include "rings.h"\n'}, "rings.h is no header of seat"),
    ("a room without a line", {"src/attic/a.c": "\n"}, "the room has no tw_room line"),
    ("a header without a room", {"include/tripwright/attic.h": "\n"}, "belongs to no room"),
    ("circle by a call", {"src/disc/rings.c": '#include "rings.h"\ndouble rings(void) {\n  return tw_disc();\n}\n'},
     "src/disc: a circle of files: disc, rings"),
    ("circle by a table", {"src/disc/disc.c": "const int tw_sizes[2] = {1, 2};\ndouble tw_disc(void) {\n  return rings();\n}\n",
                           "src/disc/rings.c": "double rings(void) {\n  return tw_sizes[0];\n}\n"},
     "src/disc: a circle of files: disc, rings"),
    ("circle by a header", {"src/disc/rings.c": '#include "disc.h"\ndouble rings(void) {\n  return 1;\n}\n', "src/disc/disc.h": "\n"},
     "src/disc: a circle of files: disc, rings"),
    ("circle of three, a long signature", {
        "src/disc/rings.c": "double rings(void) {\n  return third(1,\n               2);\n}\n",
        "src/disc/third.c": "static double own(void) {\n  return 1;\n}\n\ndouble third(int a,\n             int b) {\n  return tw_disc();\n}\n"},
     "src/disc: a circle of files: disc, rings, third"),
    ("two static functions of one name", {
        "src/disc/rings.c": "static double own(void) {\n  return 1;\n}\n\ndouble rings(void) {\n  return own();\n}\n",
        "src/disc/disc.c": "static double own(void) {\n  return rings();\n}\n\ndouble tw_disc(void) {\n  return own();\n}\n"}, None),
    ("a name in a comment or a text", {"src/disc/rings.c": 'double rings(void) {\n  // tw_disc()\n  return say("tw_disc()");\n}\n'}, None),
    ("page: an import from above", {"web/src/dom.ts": "import { view } from './views/view';\n"}, "web/src/dom.ts: stands below views/view"),
    ("page: a circle", {"web/src/dom.ts": "import type {\n  V } from './views/view';\n"}, "web/src: a circle of files: dom, views/view"),
    ("page: a package not named", {"web/src/dom.ts": "import x from 'left';\n"}, "imports left, which web/package.json does not name"),
    ("page: outside its folder", {"web/src/dom.ts": "import '../build';\n"}, "imports ../build, which is no source of the page"),
    ("page: a file without a floor", {"web/src/loft.ts": "\n"}, "web/src/loft.ts: has no place"),
]


def run(change):
    with tempfile.TemporaryDirectory() as folder:
        for name, text in {**HOUSE, **change}.items():
            path = os.path.join(folder, name)
            os.makedirs(os.path.dirname(path), exist_ok=True)
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
        done = subprocess.run([sys.executable, SCRIPT, folder], capture_output=True, text=True)
        return done.returncode, done.stdout + done.stderr


bad = 0
for name, change, want in CASES:
    code, said = run(change)
    right = (code == 0 and "in order" in said) if want is None else (code == 1 and want in said)
    if not right:
        print(f"floors test: {name}: wanted {want or 'in order'}, exit {code}:\n{said}")
        bad += 1
if not bad:
    print(f"floors test: {len(CASES)} made houses, each as it must be")
sys.exit(1 if bad else 0)
