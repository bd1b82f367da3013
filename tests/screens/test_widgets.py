"""Lists, entries and lines, each alone in a small application."""

import time

import pytest
from textual import events
from textual.app import App

from fieldlog.screens.palette import THEMES
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.curve_view import CurveView
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.widgets.fitted_listing import FittedListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine


class Alone(App):
    def __init__(self, *widgets):
        super().__init__()
        self.widgets = widgets
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = "hall"

    def compose(self):
        yield from self.widgets


def screen_text(app):
    return "\n".join(
        "".join(segment.text for segment in strip) for strip in app.screen._compositor.render_strips()
    )


def people(count):
    return [Row(f"r{number}", (f"R{number:05}", "Ann [/x] \x1b[31m")) for number in range(count)]


async def test_ten_thousand_rows_cost_what_twenty_do():
    listing = Listing(Column("code", 10), Column("name"))
    async with Alone(listing).run_test(size=(60, 20)) as pilot:
        listing.focus()
        started = time.perf_counter()
        listing.show_rows(people(10_000))
        await pilot.pause()
        assert time.perf_counter() - started < 1.0
        await pilot.press("end")
        assert listing.row_key == "r9999"
        assert "R09999" in screen_text(pilot.app)
        await pilot.press("home", "pagedown", "down")
        assert listing.row_key == "r20"


async def test_a_filter_counts_what_is_left_and_keeps_the_cursor():
    listing = Listing(Column("code", 10), Column("name"))
    async with Alone(listing).run_test(size=(60, 20)) as pilot:
        listing.show_rows([*people(238), Row("a", ("Skarvik", "boathouse")), Row("b", ("Skarvik", "hall"))])
        listing.filter("skarvik")
        assert listing.count_words == "2 of 240"
        listing.to_key("b")
        listing.filter("SKARVIK ha")
        assert listing.row_key == "b"
        listing.filter("nobody of this name")
        await pilot.pause()
        assert listing.row_key is None
        assert "nothing fits" in screen_text(pilot.app)
        listing.filter("")
        assert listing.count_words == "240 of 240"


async def test_the_key_of_a_list_is_drawn_when_it_is_known_only_later():
    title = PaneTitle("due")
    app = Alone(title)
    async with app.run_test(size=(40, 4)) as pilot:
        assert "F6" not in screen_text(app)
        title.jump = "F6"
        await pilot.pause()
        assert "── due F6 ─" in screen_text(app)


async def test_a_fitted_list_keeps_its_headings_over_its_columns():
    listing = FittedListing(Column("name", 20), Column("kind", 20), Column("certificate"))
    app = Alone(listing)
    async with app.run_test(size=(40, 6)) as pilot:
        listing.show_rows([Row("m", ("mass", "mass", "K-77, to 27 May 2031"))])
        await pilot.pause()
        head, row = screen_text(app).splitlines()[:2]
        assert "K-77, to 27 May 2031" in row
        assert head.index("certificate") == row.index("K-77")


async def test_the_cursor_stays_on_its_row_when_rows_change():
    listing = Listing(Column("code"))
    async with Alone(listing).run_test(size=(60, 20)):
        listing.show_rows(people(5))
        listing.to_key("r3")
        listing.show_rows(people(9)[2:])
        assert listing.row_key == "r3"


@pytest.fixture
def entry():
    return EntryListing(Column("mass", 8), Column("reading", 12), Column("verdict"), entry_column=1)


async def typed_into(entry, *keys):
    app = Alone(entry)
    async with app.run_test(size=(60, 20)) as pilot:
        entry.show_rows([Row("p1", ("5", "", "")), Row("p2", ("10", "", ""))])
        entry.takes_entries(["p1", "p2"])
        entry.focus()
        await pilot.press(*keys)
        await pilot.pause()
        return entry.typed, screen_text(app)


async def test_a_comma_is_a_decimal_sign_and_is_not_dropped(entry):
    typed, shown = await typed_into(entry, "1", "2", "comma", "5")
    assert typed == "12,5"
    assert "[12,5" in shown


async def test_a_unit_may_follow_the_number(entry):
    assert (await typed_into(entry, *"1", "full_stop", "4", *"in"))[0] == "1.4in"


async def test_before_the_first_digit_letters_stay_keys(entry):
    assert (await typed_into(entry, "n", "b", "u", "3", "minus"))[0] == "3"


async def test_a_sign_stands_only_at_the_start(entry):
    assert (await typed_into(entry, "minus", "9", "8", "minus", "full_stop", "2"))[0] == "-98.2"


async def test_the_sign_of_the_display_stands_there_and_can_be_typed_over(entry):
    entry.prefix = "−"
    assert (await typed_into(entry, "9", "8"))[0] == "−98"
    other = EntryListing(Column("mass", 8), Column("reading", 12), Column(""), entry_column=1)
    other.prefix = "−"
    assert (await typed_into(other, "plus", "7"))[0] == "+7"


async def test_backspace_and_moving_away_take_back_what_was_begun(entry):
    assert (await typed_into(entry, "9", "8", "backspace"))[0] == "9"
    other = EntryListing(Column("mass", 8), Column("reading", 12), Column(""), entry_column=1)
    assert (await typed_into(other, "9", "down"))[0] == ""


async def test_a_pasted_value_goes_into_the_entry_and_a_column_to_the_room(entry):
    heard = []

    class Listening(Alone):
        def on_entry_listing_pasted(self, message):
            heard.append(message.values)

    app = Listening(entry)
    async with app.run_test(size=(60, 20)) as pilot:
        entry.show_rows([Row("p1", ("5", "", ""))])
        entry.takes_entries(["p1"])
        entry.focus()
        entry.post_message(events.Paste(" 98,4 "))
        await pilot.pause()
        assert entry.typed == "98,4"
        entry.post_message(events.Paste("1,0\r\n2,5\n\x1b[31m3"))
        await pilot.pause()
    assert heard == [["1,0", "2,5", " [31m3"]]


@pytest.mark.parametrize("theme", [theme.name for theme in THEMES])
async def test_every_widget_is_drawn_under_no_color_and_in_every_theme(monkeypatch, theme):
    monkeypatch.setenv("NO_COLOR", "1")
    listing = Listing(Column("code", 10), Column("name"))
    app = Alone(
        TitleLine("left [/x]", "right"),
        PaneTitle("pane", "3 of 3"),
        TextLines(Span("a", "warn")),
        listing,
        CurveView(),
    )
    app.theme = theme
    async with app.run_test(size=(60, 20)) as pilot:
        assert app.no_color
        listing.show_rows(people(3))
        listing.focus()
        await pilot.pause()
        assert "left [/x]" in screen_text(app)


async def test_the_curve_widget_moves_a_cursor_that_reads_values():
    from fieldlog.screens.curve import Curve, CurvePlot

    view = CurveView()
    async with Alone(view).run_test(size=(60, 20)) as pilot:
        view.show_plot(CurvePlot((Curve("rep 1", [0.0, 50.0, 100.0], [0.0, 100.0, 0.0]),)))
        view.focus()
        await pilot.press("right", "left", "right")
        assert view.read_out.startswith("at 50° · rep 1 100.0 N·m")
        assert "rep 1 100.0 N·m" in screen_text(pilot.app)
