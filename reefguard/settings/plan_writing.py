"""Write a tank plan as a file: the values as a person gave them, by the path of their key."""

import json
import re
from collections.abc import Mapping

# What stands in a file without quotes and still means itself: a quantity, a time of day, a word or some.
_PLAIN = re.compile(r"[+-]?[0-9][0-9./:]*(?: ?[A-Za-z°%/][A-Za-z°%/0-9³]*)?|[A-Za-z][A-Za-z ]*[A-Za-z]|°[CF]")
_WORDS_OF_YAML = frozenset({"true", "false", "null"})
_HEAD = "# Made by `reefguard plan --ask`; every line can be changed.\n"


def plan_text(answers: Mapping[str, str]) -> str:
    """Return the file; a section stands on one line.

    >>> print(plan_text({"tank": "reef: 2", "water.volume": "340 L", "water.salinity": "35"}), end="")
    # Made by `reefguard plan --ask`; every line can be changed.
    tank: "reef: 2"
    water: {volume: 340 L, salinity: 35}
    """
    sections: dict[str, dict[str, str]] = {}
    for path, text in answers.items():
        section, _, key = path.partition(".")
        sections.setdefault(section, {})[key] = _written(path, text)
    return _HEAD + "".join(f"{section}: {_line(keys)}\n" for section, keys in sections.items())


def _line(keys: Mapping[str, str]) -> str:
    if "" in keys:
        return keys[""]
    return "{" + ", ".join(f"{key}: {text}" for key, text in keys.items()) + "}"


def _written(path: str, text: str) -> str:
    # A name stays a text even where it looks like a number.
    named = path == "tank" and not text[0].isalpha()
    if _PLAIN.fullmatch(text) and text not in _WORDS_OF_YAML and not named:
        return text
    return json.dumps(text, ensure_ascii=False)
