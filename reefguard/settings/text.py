"""The text in a file's bytes."""

from reefguard.settings.problems import Place, Problem


def text_of(content: bytes) -> str | Problem:
    """Return the text, or why there is none."""
    try:
        return content.decode()
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        why = f"not UTF-8 text: the byte 0x{content[error.start]:02x} fits nothing"
        mend = "save the file as UTF-8; a degree sign from an old editor does this"
        return Problem(Place(line, 1), "", "", why, mend)
