"""Reading pages back with pypdf and pdfplumber, and tables out of them."""

import io
from itertools import pairwise

import pdfplumber
import pypdf

MARGIN_PT = 20.0


def text_of(pdf):
    """All text of a PDF, page by page, as a person would see it line by line."""
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        return "\n".join(page.extract_text() or "" for page in document.pages)


def reading_order(pdf):
    """The text in the order it is drawn, which is the order of reading."""
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def page_count(pdf):
    return len(pypdf.PdfReader(io.BytesIO(pdf)).pages)


def letters_outside(pdf, margin_pt=MARGIN_PT):
    """Letters, lines and boxes that leave the margins."""
    outside = []
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            for thing in (*page.chars, *page.lines, *page.rects, *page.curves):
                inside = (
                    thing["x0"] >= margin_pt
                    and thing["x1"] <= page.width - margin_pt
                    and thing["top"] >= margin_pt
                    and thing["bottom"] <= page.height - margin_pt
                )
                if not inside:
                    outside.append((page.page_number, thing.get("text", thing["object_type"])))
    return outside


def overlapping_letters(pdf):
    """Pairs of letters of one page that lie over each other by more than half a letter."""
    found = []
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            lines = {}
            for letter in page.chars:
                lines.setdefault(round(letter["bottom"], 1), []).append(letter)
            for line in lines.values():
                line.sort(key=lambda letter: letter["x0"])
                for one, other in pairwise(line):
                    covered = one["x1"] - other["x0"]
                    if covered > 0.6 * max(min(one["width"], other["width"]), 1.0):
                        found.append((page.page_number, one["text"] + other["text"]))
    return found


def fonts_of(pdf):
    """(name, whether embedded) of every font."""
    found = set()
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for font in page["/Resources"]["/Font"].values():
            descriptor = font.get_object().get("/FontDescriptor")
            found.add((font.get_object()["/BaseFont"], bool(descriptor and "/FontFile2" in descriptor)))
    return found


def outside_calls(pdf):
    """Anything in the PDF that would open a file, a page of the net or a program."""
    return [
        word for word in (b"/URI", b"/Launch", b"/JavaScript", b"/GoToR", b"/EmbeddedFile") if word in pdf
    ]
