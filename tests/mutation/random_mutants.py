#!/usr/bin/env python3
"""Breaks single lines at random and asks the quick tests:  python3 tests/mutation/random_mutants.py --build build/dev --seed 1 --count 300

The build tree must be built and its sources unchanged; it is only read. Each broken file is compiled alone, with the flags of the tree, and
linked ahead of the whole library; the tests that noticed most in the same folder come first. What does not compile is drawn again. Report by
room: noticed, unnoticed, equivalent (equivalent.txt beside this file: looked at, with the reason). Exit code 1 below --least percent in any
room with ten or more.
"""
import argparse
import collections
import concurrent.futures
import json
import os
import pathlib
import random
import re
import shlex
import subprocess
import sys
import tempfile
import threading
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
SWAPS = {" < ": " <= ", " <= ": " < ", " > ": " >= ", " >= ": " > ", " == ": " != ", " != ": " == ", " + ": " - ", " - ": " + ",
         " * ": " / ", " / ": " * ", " += ": " -= ", " -= ": " += ", " && ": " || ", " || ": " && "}
KIND_OF_SWAP = {"<": "relation", ">": "relation", "=": "relation", "!": "relation", "&": "logic", "|": "logic"}


def masked(text):
    """The text with comments, strings and preprocessor lines blanked, as long as before."""
    pattern = re.compile(r'//[^\n]*|/\*.*?\*/|R"\((?:.*?)\)"|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])\'|^#[^\n]*', re.S | re.M)
    return pattern.sub(lambda m: re.sub(r"[^\n]", " ", m.group()), text)


def closing(text, opening):
    depth = 0
    for at in range(opening, len(text)):
        depth += text[at] == "("
        depth -= text[at] == ")"
        if depth == 0:
            return at
    return -1


def clamps(code):
    """std::max(a, b) with the bound left out."""
    for found in re.finditer(r"std::(?:max|min)(?:<[\w:]+>)?\(", code):
        end = closing(code, found.end() - 1)
        inside = code[found.end():end]
        depth, commas = 0, []
        for at, char in enumerate(inside):
            depth += char in "([{"
            depth -= char in ")]}"
            if char == "," and depth == 0:
                commas.append(at)
        if end > 0 and len(commas) == 1 and "\n" not in inside:
            parts = [inside[:commas[0]].strip(), inside[commas[0] + 1:].strip()]
            kept = parts[1] if re.fullmatch(r"-?[\d.e-]+U?", parts[0]) else parts[0]
            yield found.start(), end + 1, "(" + kept + ")"


def other_number(word):
    if re.fullmatch(r"\d+", word):
        return str(int(word) + 1)
    if re.fullmatch(r"\d+U", word):
        return str(int(word[:-1]) + 1) + "U"
    value = float(word.replace("'", ""))
    return repr(value * 1.1 if value else 0.1)


def sites(text):
    """(kind, start, end, put there) of all mutants of a file."""
    code = masked(text)
    for was, now in SWAPS.items():
        for found in re.finditer(re.escape(was), code):
            yield KIND_OF_SWAP.get(was.strip()[0], "arithmetic"), found.start(), found.end(), now
    for found in re.finditer(r"\bif \(([^;{}\n]+)\) \{$", code, re.M):
        yield "condition", found.start(1), found.end(1), "!(" + text[found.start(1):found.end(1)] + ")"
    for found in re.finditer(r"(?<![\w.\[<'])(\d+U?|\d+\.\d*(?:e-?\d+)?)(?![\w.'>])", code):
        yield "constant", found.start(), found.end(), other_number(found.group())
    for found in re.finditer(r"(?<=\w)\((\w[\w.\[\]]*), (\w[\w.\[\]]*)\)", code):
        if found.group(1) != found.group(2):
            yield "arguments", found.start(), found.end(), f"({found.group(2)}, {found.group(1)})"
    for found in re.finditer(r"^ +(?!return|throw|break|continue|case|using|delete)[\w.\[\]>*()-]+(?: [-+*/|&]?= [^;{}\n]*|\([^;{}\n]*\));$", code, re.M):
        if found.group().count("(") == found.group().count(")"):
            yield "statement", found.start(), found.end(), ";"
    for found in re.finditer(r"\b(true|false)\b", code):
        yield "truth", found.start(), found.end(), "false" if found.group() == "true" else "true"
    for start, end, now in clamps(code):
        yield "clamp", start, end, now


def mutants(files, seed):
    """Without end: a kind at random, then a place at random."""
    by_kind = collections.defaultdict(list)
    texts = {}
    for file in files:
        texts[file] = (ROOT / file).read_text()
        for kind, start, end, now in sites(texts[file]):
            by_kind[kind].append((file, start, end, now))
    draw = random.Random(seed)
    kinds = sorted(by_kind)
    while True:
        kind = draw.choice(kinds)
        file, start, end, now = draw.choice(by_kind[kind])
        text = texts[file]
        begin, stop = text.rfind("\n", 0, start) + 1, text.find("\n", end)
        line = text.count("\n", 0, start) + 1
        yield {"kind": kind, "file": file, "line": line, "was": text[begin:stop].strip(),
               "is": (text[begin:start] + now + text[end:stop]).strip(), "text": text[:start] + now + text[end:]}


class Tree:
    """What the build tree says of compiling, linking and testing."""

    def __init__(self, build):
        self.build = build
        self.compile = {}
        for entry in json.loads((build / "compile_commands.json").read_text()):
            self.compile[os.path.realpath(os.path.join(entry["directory"], entry["file"]))] = entry
        self.units = {}  # by source: the joined source that compiles it, where sources are joined
        for path in self.compile:
            if "/unity_" in path:
                for found in re.finditer(r'#include "([^"]+)"', pathlib.Path(path).read_text()):
                    self.units[os.path.realpath(found.group(1))] = path
        listed = json.loads(subprocess.run(["ctest", "--show-only=json-v1"], cwd=build, capture_output=True, check=True).stdout)
        self.program = str(build / "cli" / "bagsplit")
        self.programs, self.cases = [], []
        for test in listed["tests"]:
            labels = next((p["value"] for p in test["properties"] if p["name"] == "LABELS"), [])
            if "quick" not in labels or "command" not in test:
                continue
            command = test["command"]
            if command[0].endswith("_test"):
                if command[0] not in self.programs:
                    self.programs.append(command[0])
            elif self.program in command:
                self.cases.append((test["name"], command))
        self.links = {}
        self.lock = threading.Lock()

    def link_command(self, program):
        with self.lock:
            if program not in self.links:
                target = os.path.relpath(program, self.build)
                made = subprocess.run(["ninja", "-t", "commands", "-s", target], cwd=self.build, capture_output=True, text=True, check=True)
                self.links[program] = made.stdout.strip().splitlines()[-1]
            return self.links[program]

    def compiled(self, mutant, folder):
        """@return the object file, or none where it does not compile."""
        source = str(ROOT / mutant["file"])
        broken = folder / pathlib.Path(source).name
        broken.write_text(mutant["text"])
        entry = self.compile[self.units.get(source, source)]
        unit = broken
        if source in self.units:
            unit = folder / "joined.cpp"
            unit.write_text(pathlib.Path(self.units[source]).read_text().replace(f'"{source}"', f'"{broken}"'))
        words = [w for w in shlex.split(entry["command"]) if not w.endswith("ccache")]
        cleaned, skip = [], False
        for word in words:
            if skip or word in ("-o", "-MF", "-MT", "-c"):
                skip = word in ("-o", "-MF", "-MT")
                continue
            if word not in ("-MD", "-Werror") and os.path.realpath(os.path.join(entry["directory"], word)) != self.units.get(source, source):
                cleaned.append(word)
        made = folder / "broken.o"
        command = cleaned + ["-w", "-iquote", os.path.dirname(source), "-c", str(unit), "-o", str(made)]
        run = subprocess.run(command, cwd=entry["directory"], capture_output=True, timeout=300)
        return made if run.returncode == 0 else None

    def linked(self, program, made, folder):
        out = folder / pathlib.Path(program).name
        if not out.exists():
            target = os.path.relpath(program, self.build)
            command = self.link_command(program).replace(f"-o {target}", f"{made} -o {out} -Wl,--allow-multiple-definition", 1)
            command = command.split("&& cd ")[0].removeprefix(": && ")
            subprocess.run(command.strip().removesuffix("&& :"), shell=True, cwd=self.build, capture_output=True, check=True)
        return out


class Trial:
    def __init__(self, tree):
        self.tree = tree
        self.noticed_by = collections.defaultdict(collections.Counter)  # by folder
        self.usual_s = {}

    def order(self, file):
        words = set(re.split(r"[/_.]", file)) - {"lib", "bagsplit", "cpp", "detail"}
        counts = self.noticed_by[os.path.dirname(file)]
        asked = [("program", p) for p in self.tree.programs if not file.startswith("cli/")] + [("case", c) for c in range(len(self.tree.cases))]

        def rank(ask):
            name = os.path.relpath(ask[1], self.tree.build) if ask[0] == "program" else self.tree.cases[ask[1]][0]
            return (-counts[ask], -len(words & set(re.split(r"[/_.]", name))), self.usual_s.get(ask, 1.0))
        return sorted(asked, key=rank)

    def passes(self, ask, made, folder):
        if ask[0] == "program":
            command = [str(self.tree.linked(ask[1], made, folder)), "--gtest_fail_fast", "--gtest_brief=1"]
        else:
            program = str(self.tree.linked(self.tree.program, made, folder))
            command = [program if w == self.tree.program else w for w in self.tree.cases[ask[1]][1]]
        start = time.monotonic()
        try:
            good = subprocess.run(command, cwd=folder, capture_output=True, timeout=20 + 20 * self.usual_s.get(ask, 5.0)).returncode == 0
        except subprocess.TimeoutExpired:
            return False
        if good:
            self.usual_s[ask] = time.monotonic() - start
        return good

    def verdict(self, mutant):
        with tempfile.TemporaryDirectory(prefix="mutant") as name:
            folder = pathlib.Path(name)
            made = self.tree.compiled(mutant, folder)
            if made is None:
                return None
            for ask in self.order(mutant["file"]):
                if not self.passes(ask, made, folder):
                    self.noticed_by[os.path.dirname(mutant["file"])][ask] += 1
                    return os.path.basename(ask[1]) if ask[0] == "program" else self.tree.cases[ask[1]][0]
        return "UNNOTICED"


def known_equivalents():
    known = set()
    for line in (pathlib.Path(__file__).parent / "equivalent.txt").read_text().splitlines():
        if line and not line.startswith("#"):
            known.add(tuple(part.strip() for part in line.split(" @ ")[:3]))
    return known


def room_of(file):
    parts = pathlib.Path(file).parts
    return "/".join(parts[2:-1]).removesuffix("/detail") if parts[0] == "lib" else "cli"


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--build", type=pathlib.Path, required=True)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--count", type=int, default=300)
    ask.add_argument("--only", default="", help="files whose path begins so")
    ask.add_argument("--jobs", type=int, default=os.cpu_count())
    ask.add_argument("--least", type=float, default=90.0)
    ask.add_argument("--minutes", type=float, default=1e9, help="stop asking after so long")
    given = ask.parse_args()
    tree = Tree(given.build.resolve())
    files = sorted(str(f.relative_to(ROOT)) for part in ("lib", "cli") for f in (ROOT / part).rglob("*.cpp")
                   if str(f.relative_to(ROOT)).startswith(given.only) and
                   os.path.realpath(f) in (tree.compile.keys() | tree.units.keys()))
    equivalents = known_equivalents()
    drawn = mutants(files, given.seed)
    trial = Trial(tree)
    rooms = collections.defaultdict(collections.Counter)
    until = time.monotonic() + 60 * given.minutes
    done, lock = [0], threading.Lock()

    def work():
        while True:
            with lock:
                if done[0] >= given.count or time.monotonic() > until:
                    return
                mutant = next(drawn)
                done[0] += 1
            verdict = trial.verdict(mutant)
            if verdict == "UNNOTICED" and (mutant["file"], mutant["was"], mutant["is"]) in equivalents:
                verdict = "equivalent"
            with lock:
                if verdict is None:
                    done[0] -= 1
                    continue
                rooms[room_of(mutant["file"])][verdict if verdict in ("UNNOTICED", "equivalent") else "noticed"] += 1
                print(f"{mutant['file']}:{mutant['line']} @ {mutant['was']} @ {mutant['is']} @ {mutant['kind']}: {verdict}", flush=True)

    print(f"seed {given.seed}")
    with concurrent.futures.ThreadPoolExecutor(given.jobs) as pool:
        for future in [pool.submit(work) for _ in range(given.jobs)]:
            future.result()
    low = False
    for room, counts in sorted(rooms.items()):
        real = counts["noticed"] + counts["UNNOTICED"]
        share = 100.0 * counts["noticed"] / real if real else 100.0
        low = low or (real >= 10 and share < given.least)
        print(f"{room:<28} {counts['noticed']:>4} noticed {counts['UNNOTICED']:>4} unnoticed {counts['equivalent']:>4} equivalent {share:6.0f} %")
    total = sum(rooms.values(), collections.Counter())
    print(f"{'all':<28} {total['noticed']:>4} noticed {total['UNNOTICED']:>4} unnoticed {total['equivalent']:>4} equivalent")
    return 1 if low or not total else 0


if __name__ == "__main__":
    sys.exit(main())
