#!/usr/bin/env python3
"""Write the tables of fields into docs/guide/design-file.md, from include/tripwright/fields.def.

The C preprocessor expands the table, so that the docs have what the compiler sees. With --check
nothing is written; the exit code is 1 if the file would change."""
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
DOC = ROOT / "docs/guide/design-file.md"
BEGIN, END = "<!-- fields: begin (scripts/field_tables.py) -->", "<!-- fields: end -->"

PROGRAM = r'''
#define TW_MUST "must be given"
#define TW_UNSET "unset"
#define TW_FIELD(id, path, TYPE, unit, fallback, least, most, TOL, DEFAULT, part, when, SET, help, source) \
  @ROW@ path @@ #TYPE @@ unit @@ fallback @@ when @@ #SET @@ help @@ source @@ part
#include "tripwright/fields.def"
'''
CHOICES = r'''
#include "tripwright/choices.def"
#define ROW(SET, NAME, word, help) @WORD@ #SET @@ word @@ help
#define SET(S) TW_CHOICES_##S(ROW)
TW_CHOICE_SETS(SET)
'''


def expand(program):
    """the text after the preprocessor"""
    return subprocess.run(["cc", "-E", "-P", f"-I{ROOT}/include", "-x", "c", "-"], input=program,
                          capture_output=True, text=True, check=True).stdout


def words(cell):
    """C string literals of one cell, joined"""
    parts = re.findall(r'"((?:[^"\\]|\\.)*)"', cell)
    return "".join(parts).replace('\\"', '"')


def rows(text, mark):
    """the cells of every row after `mark`"""
    for row in text.split(mark)[1:]:
        yield [words(cell) for cell in row.split("@@")]


def tables():
    """Markdown: one table a group, with the answers of its choices below"""
    answers = {}
    for name, word, text in rows(expand(CHOICES), "@WORD@"):
        answers.setdefault(name, []).append((word, text))
    groups = {}
    for row in rows(expand(PROGRAM), "@ROW@"):
        group = row[0].split(".")[0] if "." in row[0] else "top of the file"
        groups.setdefault(group, []).append(row)
    out = []
    for group, fields in groups.items():
        out.append(f"### {group}\n")
        out.append("| field | unit | default | meaning | counts for | source |")
        out.append("|---|---|---|---|---|---|")
        for path, kind, unit, fallback, when, choice, text, source, part in fields:
            del part
            unit, when = unit.replace("|", ";"), when.replace("|", ", ").replace("&", "; ")
            out.append(f"| `{path}` | {unit} | {fallback} | {text} | {when} | {source} |")
            if kind == "CHOICE":
                listed = "; ".join(f"`{w}` ({t})" for w, t in answers[choice])
                out.append(f"| | | | {listed} | | |")
        out.append("")
    return "\n".join(out)


def main():
    text = DOC.read_text(encoding="utf-8")
    start, end = text.index(BEGIN) + len(BEGIN), text.index(END)
    new = text[:start] + "\n\n" + tables() + "\n" + text[end:]
    if "--check" in sys.argv:
        return 0 if new == text else 1
    DOC.write_text(new, encoding="utf-8")
    return 0


sys.exit(main())
