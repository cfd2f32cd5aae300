"""The guide from a phone to a plan: every command of it runs, one after another."""

import itertools
import json
import re
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest

from layout.commands import main

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "sample_area" / "phone_to_plan.md"
HAS_STOPS = 1


def blocks(text: str) -> list[tuple[str, str]]:
    return re.findall(r"^```(\w+)\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def put_under_trails(file: Path, line: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count("\n[trails]\n") == 1
    file.write_text(text.replace("\n[trails]\n", f"\n[trails]\n{line}"), encoding="utf-8")


@pytest.mark.slow
def test_every_command_of_the_guide_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    plans = []
    for kind, text in blocks(GUIDE.read_text(encoding="utf-8")):
        if kind == "toml":
            put_under_trails(Path("woods/area.toml"), text)
            continue
        for line in text.splitlines():
            program, *words = shlex.split(line)
            if program == "cp":
                shutil.copy(*words)
                continue
            assert program == "skidway"
            status = main(words)
            assert status == 0 or (status == HAS_STOPS and words[0] == "check"), line
            if words[0] == "plan":
                plans.append(json.loads(Path("woods/out/plan.json").read_text(encoding="utf-8")))
    first, again = plans
    marked = [tree for tree in first["trees"] if tree["status"] != "leave"]
    assert len(marked) > 30
    served = sum(tree["status"] == "served" for tree in marked)
    assert served >= 0.9 * len(marked)
    # flagged as planned: the trails keep their names and lines
    assert again["landing"]["shape"] == first["landing"]["shape"]
    kept = {trail["trail_id"] for trail in again["trails"] if trail["source"] == "fixed"}
    assert kept == {trail["trail_id"] for trail in first["trails"]}

    # and walked with a phone that is off by a metre from fix to fix
    path = Path("woods/flagged.gpx")
    path.write_text(shaken(path.read_text(encoding="utf-8")), encoding="utf-8")
    assert main(["plan", "woods"]) in (0, HAS_STOPS)
    walked = json.loads(Path("woods/out/plan.json").read_text(encoding="utf-8"))
    assert kept <= {trail["trail_id"] for trail in walked["trails"]}
    codes = [(f["code"], f["level"], f["subject_id"]) for f in walked["findings"]]
    assert not [c for c in codes if c[:2] == ("turn_radius", "stop") and c[2] in kept]
    assert [level for code, level, _ in codes if code == "bends_not_known"] == ["unknown"]


def shaken(gpx: str) -> str:
    """Move every fix of a file's tracks by about a metre.

    Of those between the ends every fifth is kept, as phones do; a walk begins and ends
    where it does.
    """
    rng = np.random.default_rng(3)
    metre = 1 / 111_200  # of a degree of latitude; of longitude a good deal more than that
    point = re.compile(r'<trkpt lat="([-0-9.]+)" lon="([-0-9.]+)"(?:/>|>.*?</trkpt>)', re.DOTALL)

    def walked(track: re.Match[str]) -> str:
        last = len(point.findall(track[0])) - 1
        seen = itertools.count()

        def moved(fix: re.Match[str]) -> str:
            number = next(seen)
            if number % 5 and number != last:
                return ""
            lat, lon = (float(v) + rng.normal(0, metre) for v in fix.groups())
            return f'<trkpt lat="{lat:.8f}" lon="{lon:.8f}"/>'

        return point.sub(moved, track[0])

    return re.sub(r"<trkseg>.*?</trkseg>", walked, gpx, flags=re.DOTALL)


def test_the_guide_names_only_commands_there_are() -> None:
    from layout.commands import COMMANDS

    known = {command.__name__.rsplit(".", 1)[1] for command in COMMANDS}
    for kind, text in blocks(GUIDE.read_text(encoding="utf-8")):
        for line in text.splitlines() if kind == "sh" else ():
            program, *words = shlex.split(line)
            assert program == "cp" or words[0] in known, line
