"""A page as tests read it: its elements, and the text that stands in them."""

from __future__ import annotations

import html.parser

VOID = {"meta", "img", "br", "link", "input", "hr", "col"}


class Read(html.parser.HTMLParser):
    """Elements with attributes, and text by the element it stands in."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, str] = {}
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag in self.open:
            while self.open.pop() != tag:
                pass

    def handle_data(self, data):
        for tag in self.open:
            self.texts[tag] = self.texts.get(tag, "") + data
