"""The page of the map as one text, for a frame that may ask the net for nothing.

It is the same page the server gives out. Its scripts stay modules: each is carried as
a data address that an import map names, so that nothing has to be fetched.
"""

import base64
import html
import json
import re
from importlib.resources import files

from layout.drawing.server import pages
from layout.errors import LayoutError

STYLE = re.compile(r'<link rel="stylesheet" href="(/[^"]+)">')
SCRIPT = re.compile(r'<script src="(/[^"]+)"[^>]*></script>')
MODULE = re.compile(r'<script type="module" src="/main\.js"></script>')
FETCHED = re.compile(r'<(?:link|script|img|iframe)\b[^>]*\b(?:src|href)="(?!data:)([^"]*)"')
IMPORT = re.compile(r'(\bfrom\s*|\bimport\s*\(?\s*)"/([a-z_]+\.js)"')
NAMED = "skidway/"  # what an address of ours begins with in the import map
CELL = files("layout.drawing") / "cell"


def cell_script() -> str:
    """Give the script a notebook runs to show the page.

    Returns
    -------
    str
        A module with ``render``.
    """
    return (CELL / "cell.js").read_text(encoding="utf-8")


def cell_page(nonce: str) -> str:
    """Give the page with everything it needs in it.

    Parameters
    ----------
    nonce : str
        Unguessable; only scripts and styles that carry it are run.

    Returns
    -------
    str
        HTML.

    Raises
    ------
    LayoutError
        If the map library is not there, or the page asks for what is not in it.
    """
    held = {at: data.decode("utf-8") for at, (_, data) in pages().items()}
    mark = f'nonce="{html.escape(nonce)}"'

    def style(found: re.Match[str]) -> str:
        return f"<style {mark}>{_closed(_content(held, found[1]), 'style')}</style>"

    def script(found: re.Match[str]) -> str:
        return f"<script {mark}>{_closed(_content(held, found[1]), 'script')}</script>"

    modules = {
        NAMED + at.removeprefix("/"): _carried(IMPORT.sub(rf'\1"{NAMED}\2"', text))
        for at, text in held.items()
        if at.endswith(".js") and at.count("/") == 1
    }
    frame = (CELL / "frame.js").read_text(encoding="utf-8")
    first = (
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(nonce)}">\n'
        f'<script type="importmap" {mark}>{json.dumps({"imports": modules})}</script>\n'
        f"<script {mark}>{_closed(frame, 'script')}</script>\n"
    )
    page = MODULE.sub("", held["/"])  # the frame's own script begins it
    left = FETCHED.findall(SCRIPT.sub("", STYLE.sub("", page)))
    if left or page == held["/"]:
        msg = f"index.html: the notebook does not know how to carry {left or 'its first script'}"
        raise LayoutError(msg)
    page = STYLE.sub(style, SCRIPT.sub(script, page))
    return page.replace('<meta charset="utf-8">\n', f'<meta charset="utf-8">\n{first}', 1)


def _policy(nonce: str) -> str:
    """Nothing is loaded but what the page carries; the modules are data addresses."""
    return (
        f"default-src 'none'; script-src 'nonce-{html.escape(nonce)}'; "
        f"style-src 'nonce-{html.escape(nonce)}'; img-src blob: data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _content(held: dict[str, str], at: str) -> str:
    if at not in held:
        msg = (
            f"{at.removeprefix('/')}: this file of the map is missing; install skidway from its "
            "folder once more (python -m pip install .)"
        )
        raise LayoutError(msg)
    return held[at]


def _carried(module: str) -> str:
    data = base64.b64encode(module.encode("utf-8")).decode("ascii")
    return f"data:text/javascript;charset=utf-8;base64,{data}"


def _closed(text: str, tag: str) -> str:
    """Keep a text from ending the element it stands in."""
    return re.sub(rf"</(?={tag})", r"<\\/", text, flags=re.IGNORECASE)
