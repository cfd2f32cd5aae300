"""Take the two pictures of the map that the documents show.

Run as ``python tests/bench/shoot_drawing.py`` with chromium and Playwright. Writes
``draw_desktop.png`` and ``draw_phone.png`` beside it: the sample area, its main trail
bent over the steep bank so that there is something to find. Look at them before you
keep them.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from drawing_page import DESKTOP, PHONE, Sheet, chromium, served
from PIL import Image

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
MOST_KB = 200
COMMON, REST = 64, 136  # tints kept as they are; tints for all the others


def few_tints(shot: Image.Image) -> Image.Image:
    """Give a picture in 256 tints: paper and ink as they are, rare reds and ambers as well."""
    found = sorted(shot.getcolors(shot.width * shot.height) or [], reverse=True)[:COMMON]
    # by coverage of the colours there are, or the few red and amber marks turn brown
    rest = shot.quantize(REST, method=Image.Quantize.MAXCOVERAGE).getpalette() or []
    tints = Image.new("P", (1, 1))
    tints.putpalette([part for _, tint in found for part in tint] + rest[: 3 * REST])
    return shot.quantize(palette=tints, dither=Image.Dither.NONE)


def main() -> int:
    """Write both pictures; 1 where one is too heavy."""
    heavy = False
    with (
        tempfile.TemporaryDirectory() as folder,
        served(ROOT / "sample_area", Path(folder) / "area") as server,
        chromium() as browser,
    ):
        for name, size in (("draw_desktop.png", DESKTOP), ("draw_phone.png", PHONE)):
            sheet = Sheet(browser.new_context(**{**size, "device_scale_factor": 1}), server)
            draft = sheet.draft
            line = draft["trails"][0]["line"]
            main_trail = {**draft["trails"][0], "line": line[: len(line) * 2 // 3]}
            end = main_trail["line"][-1]
            main_trail["line"].append([end[0] + 35, end[1] + 50])
            sheet.page.evaluate(
                "d => skidway.store.open(d, 'Over the bench', null)",
                {**draft, "trails": [main_trail]},
            )
            sheet.page.fill("#drawing-name", "Over the bench")
            if size is DESKTOP:
                sheet.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
            sheet.page.evaluate("document.activeElement.blur()")
            sheet.settle()
            sheet.page.wait_for_timeout(1500)
            path = HERE / name
            sheet.page.screenshot(path=path)
            with Image.open(path) as shot:
                small = few_tints(shot.convert("RGB"))
            small.save(path, optimize=True)
            sheet.close()
            kb = path.stat().st_size / 1e3
            print(f"{path.name}: {small.size[0]} x {small.size[1]}, {kb:.0f} kB")
            heavy |= kb > MOST_KB
    return int(heavy)


if __name__ == "__main__":
    sys.exit(main())
