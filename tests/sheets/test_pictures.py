"""Pages rendered as they would be printed: white to the margins, and legible without colour."""

import pytest

from tests.sheets.thumbnails import pictures, sample_pages


@pytest.fixture(scope="module")
def pages():
    return sample_pages()


@pytest.mark.parametrize("kind", ["coach", "athlete", "rig", "visit"])
def test_the_margins_of_every_page_stay_white_and_the_page_is_mostly_white(pages, kind):
    for picture in pictures(pages[kind], grey=True):
        width, height = picture.size
        for edge in (
            (0, 0, width, 20),
            (0, height - 20, width, height),
            (0, 0, 20, height),
            (width - 20, 0, width, height),
        ):
            assert picture.crop(edge).getextrema() == (255, 255)
        dark = sum(count for shade, count in enumerate(picture.histogram()) if shade < 128)
        assert 0.001 < dark / (width * height) < 0.12


def test_in_grey_print_the_marks_still_differ():
    import io

    from reportlab.pdfgen.canvas import Canvas

    from fieldlog.sheets.content import Mark
    from fieldlog.sheets.fonts import page_fonts
    from fieldlog.sheets.marks import MEANINGS, draw_mark
    from fieldlog.sheets.pen import Pen

    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(10 * len(MEANINGS), 10))
    for number, known in enumerate(MEANINGS):
        draw_mark(Pen(canvas, page_fonts()), 10 * number + 1, 1, 8, Mark(*known))
    canvas.save()
    (picture,) = pictures(file.getvalue(), scale=4, grey=True)
    marks = [
        picture.crop((40 * number, 0, 40 * number + 40, 40)).tobytes() for number in range(len(MEANINGS))
    ]
    for number, mark in enumerate(marks):
        for other in marks[number + 1 :]:
            unlike = sum(abs(a - b) > 60 for a, b in zip(mark, other, strict=True))
            assert unlike > 60, "two marks look alike in grey"
