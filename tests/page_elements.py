"""The elements of a page, read as a browser would."""

from html.parser import HTMLParser

EMPTY_TAGS = {"meta"}


class Elements(HTMLParser):
    """The elements of a page, their attributes and the text in them; refuses what is not closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.said: list[tuple[str, str]] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in EMPTY_TAGS:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert "svg" in self.open, f"<{tag}/> stays open in HTML"
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and data.strip():
            self.said.append((self.open[-1], data))

    def attributes(self, tag: str) -> list[dict[str, str | None]]:
        """Return the attributes of each element with this tag."""
        return [attributes for found, attributes in self.found if found == tag]

    def text(self, tag: str) -> list[str]:
        """Return the texts directly in elements with this tag."""
        return [text for found, text in self.said if found == tag]
