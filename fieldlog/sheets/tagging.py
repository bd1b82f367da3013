"""Reading order and roles inside the PDF, so that a screen reader reads a page as it is meant."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal

__all__ = ["Tags"]

Role = Literal["H1", "H2", "P", "Table", "TR", "TH", "TD", "Figure", "Note"]


@dataclass
class _Element:
    role: str
    alternative: str = ""
    children: list[_Element] = field(default_factory=list)
    # (page number, number of the marked content on that page)
    content: list[tuple[int, int]] = field(default_factory=list)


class Tags:
    """Marks what is drawn on a canvas and writes the structure tree of a tagged PDF (ISO 32000-1, 14.7)."""

    def __init__(self, canvas: Any) -> None:
        self._canvas = canvas
        self._root = _Element("Document")
        self._open = [self._root]
        self._page = 0
        self._marked_by_page: list[list[_Element]] = [[]]

    def next_page(self) -> None:
        """Number marked content from zero again."""
        self._page += 1
        self._marked_by_page.append([])

    @contextmanager
    def group(self, role: Role) -> Iterator[None]:
        """Elements tagged inside belong to this one (a table, a row)."""
        element = _Element(role)
        self._open[-1].children.append(element)
        self._open.append(element)
        yield
        self._open.pop()

    @contextmanager
    def content(self, role: Role, alternative: str = "") -> Iterator[None]:
        """What is drawn inside is read as ``role``; ``alternative`` is read in place of a drawing."""
        element = _Element(role, alternative)
        self._open[-1].children.append(element)
        marked = self._marked_by_page[self._page]
        element.content.append((self._page, len(marked)))
        self._canvas._code.append(f"/{role} <</MCID {len(marked)}>> BDC")  # noqa: SLF001 (no public way to mark content)
        marked.append(element)
        yield
        self._canvas._code.append("EMC")  # noqa: SLF001 (as above)

    @contextmanager
    def foot_of(self, page: int) -> Iterator[None]:
        """What is drawn inside is read as a note of ``page``, whatever page was drawn on last."""
        last, self._page = self._page, page
        with self.content("Note"):
            yield
        self._page = last

    @contextmanager
    def decoration(self) -> Iterator[None]:
        """What is drawn inside is not read."""
        self._canvas._code.append("/Artifact BMC")  # noqa: SLF001 (as above)
        yield
        self._canvas._code.append("EMC")  # noqa: SLF001 (as above)

    def finish(self) -> None:
        """Put the tree into the document; called once all pages are shown, before saving."""
        from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName

        document = self._canvas._doc  # noqa: SLF001 (the catalogue has no public setter)
        pages = document.Pages.pages
        references = {}

        def build(element: _Element, parent: Any) -> Any:
            body: dict[str, Any] = {"Type": PDFName("StructElem"), "S": PDFName(element.role), "P": parent}
            if element.alternative:
                body["Alt"] = _pdf_text(element.alternative)
            dictionary = PDFDictionary(body)
            reference = document.Reference(dictionary)
            references[id(element)] = reference
            kids = [build(child, reference) for child in element.children]
            if element.content:
                page, number = element.content[0]
                dictionary.dict["Pg"] = document.Reference(pages[page])
                kids.append(number)
            dictionary.dict["K"] = PDFArray(kids)
            return reference

        root = PDFDictionary({"Type": PDFName("StructTreeRoot")})
        root_reference = document.Reference(root)
        root.dict["K"] = build(self._root, root_reference)
        numbers: list[Any] = []
        for number, marked in enumerate(self._marked_by_page[: len(pages)]):
            # An attribute of this page alone: the class names no place for StructParents.
            pages[number].__Defaults__ = {**pages[number].__Defaults__, "StructParents": number}
            numbers += [number, document.Reference(PDFArray([references[id(element)] for element in marked]))]
        root.dict["ParentTree"] = document.Reference(PDFDictionary({"Nums": PDFArray(numbers)}))
        root.dict["ParentTreeNextKey"] = len(pages)
        document.Catalog.StructTreeRoot = root
        document.Catalog.MarkInfo = PDFDictionary({"Marked": "true"})


def _pdf_text(text: str) -> Any:
    from reportlab.pdfbase.pdfdoc import PDFString

    return PDFString(text)
