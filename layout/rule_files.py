"""Streamside rule files: the ones that come with the package, and one's own.

`layout.rule_format` says what a file holds. What a rule does not say is left out of
its file, never guessed.
"""

from importlib import resources
from pathlib import Path

from layout.errors import InputError
from layout.rule_format import parse_rule
from layout.water_rules import Rule

NO_RULE_CHOSEN = "no-rule-chosen"  # the file used when the owner has picked none


def rule_names() -> tuple[str, ...]:
    """List the rules that come with the package, by name."""
    folder = resources.files("layout").joinpath("rules")
    return tuple(sorted(p.name[:-5] for p in folder.iterdir() if p.name.endswith(".toml")))


def load_rule(name_or_path: str | Path, folder: Path | None = None) -> Rule:
    """Read a rule by its name, or from a file of one's own.

    Parameters
    ----------
    name_or_path : str or Path
        Name of a rule that comes with the package, or a path ending in ``.toml``.
    folder : Path, optional
        What a relative path starts from; the current folder when left out.

    Returns
    -------
    Rule
        The checked rule.

    Raises
    ------
    InputError
        If there is no such rule or the file cannot be read.
    InputFaults
        If its content is wrong: every fault with file, line, row, key and what to do.
    """
    text = str(name_or_path)
    if text.endswith(".toml"):
        path = (folder or Path()) / text
        try:
            raw = path.read_bytes()
        except OSError as fault:
            msg = f"rule file {text} cannot be read ({fault.strerror}); check the path"
            raise InputError(msg) from fault
        return parse_rule(raw, text)
    if text not in rule_names():
        msg = (
            f'there is no rule "{text}"; known are {", ".join(rule_names())}. '
            "A file of your own is given by a path that ends in .toml"
        )
        raise InputError(msg)
    shown = f"{text}.toml"
    rule = parse_rule(resources.files("layout").joinpath("rules", shown).read_bytes(), shown)
    if rule.name != text:
        msg = f'{shown}: name is "{rule.name}"; a rule is named as its file, "{text}"'
        raise InputError(msg)
    return rule
