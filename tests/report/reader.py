"""A page as a reader meets it, without a browser."""

from __future__ import annotations

from html.parser import HTMLParser


class Reader(HTMLParser):
    """The page's words and tags as a browser would see them, scripts and styles left out."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.scripts: list[str] = []
        self._inside = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag if tag in ("script", "style") else ""

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.scripts.append(data)
        elif not self._inside:
            self.words += data

    def count(self, tag: str) -> int:
        return sum(one == tag for one, _ in self.tags)
