"""Places: the first room, where to and what is left undone."""

from __future__ import annotations

import datetime as dt
import importlib
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Column
from fieldlog.screens.widgets.fitted_listing import FittedListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

if TYPE_CHECKING:
    from fieldlog.fieldwork.visit.places import Place
    from fieldlog.screens.table import View
    from fieldlog.store.workspace import Workspace

__all__ = ["PlacesRoom"]

PLACE_COLUMNS = (
    Column("site"),
    Column("last visit", 11),
    Column("athletes", 8),
    Column("rig", 7),
    Column("to finish", 18),
)
DUE_COLUMNS = (Column("", 24), Column(""))
# Loaded behind the first room, so that the way of the tester opens at once.
_LIKELY_NEXT = (
    "day",
    "bench",
    "batch_entry",
    "clearance_entry",
    "setup_walk",
    "set_shown",
    "import_recording",
)


class PlacesRoom(Room):
    """The first room: every site, what is left to finish there, and what falls due."""

    about = (
        "Places lists every site of this workspace, the latest visited first. What is left to finish stands at the "
        "right; what falls due stands below. Enter opens the last visit of a site; a new day is begun there with a."
    )
    CSS = """
    #due { max-height: 5; height: auto; min-height: 1; }
    #place { height: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open"),
        key("add"),
        key("rig_log"),
        key("squad"),
        key("exchange"),
        key("plans", show=False),
        key("filter"),
    ]

    def body(self) -> ComposeResult:
        """Sites, what is due, and one line of the site under the cursor."""
        yield PaneTitle("Places", id="places_title")
        yield FittedListing(*PLACE_COLUMNS, id="places", empty="…")
        yield PaneTitle("Due", id="due_title")
        yield Listing(*DUE_COLUMNS, id="due", heading=False, empty="…")
        yield PaneTitle("", id="place_title")
        yield TextLines("", id="place")

    def open_up(self) -> None:
        """The frame is painted first; what takes time to load and to open comes right after it."""
        if self.fieldlog.is_open:
            super().open_up()
            return
        self.query_one("#title", TitleLine).show("fieldlog", "opening the workspace …")
        self.call_after_refresh(self.run_worker, self._open_workspace, thread=True)

    def _open_workspace(self) -> None:
        app = self.fieldlog
        try:
            app.open_workspace()
            read_places(app.workspace, app.today)
        except (FieldlogError, OSError) as error:
            app.call_from_thread(app.fail, error)
            return
        self.from_thread(self._opened)
        for room in _LIKELY_NEXT:
            importlib.import_module(f"fieldlog.screens.{room}")
        app.call_from_thread(app.spare_the_collector)

    def _opened(self) -> None:
        super().open_up()

    def begin(self) -> None:
        """Begin on the list of sites."""
        self.set_focus(self.query_one("#places", Listing))

    def refresh_room(self) -> None:
        """Read all sites anew."""
        view, self._places = read_places(self.fieldlog.workspace, self.fieldlog.today)
        self.query_one("#title", TitleLine).show(view.left, view.right)
        for name, pane in zip(("places", "due"), view.panes, strict=True):
            listing = self.query_one(f"#{name}", Listing)
            listing.empty = pane.empty
            listing.show_rows(pane.rows)
            self.query_one(f"#{name}_title", PaneTitle).show(note=pane.note)
        self._tell_place()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the site under the cursor."""
        if event.listing.id == "places":
            self._tell_place()

    def _tell_place(self) -> None:
        from fieldlog.screens.places_view import place_lines

        place = self._places.get(self.query_one("#places", Listing).row_key or "")
        self.query_one("#place_title", PaneTitle).show(place.name if place else "")
        self.query_one("#place", TextLines).show_lines(
            *(place_lines(place, self.fieldlog.today) if place else [""])
        )

    def action_open(self) -> None:
        """Open the last visit of the site."""
        from fieldlog.screens.day import DayRoom

        listing = self.query_one("#places", Listing)
        if listing.row_key is None:
            self.say("no site yet; press a to add one")
            return
        self.app.push_screen(DayRoom(self.fieldlog.workspace.sites[listing.row_key]))

    def action_add(self) -> None:
        """Ask for a new site's name, latitude and height, one after the other."""
        self.ask("name of the new site:", self._ask_latitude)

    def _ask_latitude(self, name: str) -> None:
        from fieldlog.fieldwork.entry import parse_number

        self.ask(
            f"latitude of {name} in degrees, south negative:",
            lambda latitude: self._ask_height(name, parse_number(latitude, "latitude")),
        )

    def _ask_height(self, name: str, latitude_deg: float) -> None:
        from fieldlog.fieldwork.entry import parse_number

        self.ask(
            f"height of {name} above sea level in metres:",
            lambda height: self._add(name, latitude_deg, parse_number(height, "height")),
        )

    def _add(self, name: str, latitude_deg: float, height_m: float) -> None:
        from fieldlog.fieldwork.visit.sites import enter_site

        store = enter_site(
            self.fieldlog.workspace, name, latitude_deg=latitude_deg, height_m=height_m, by=self.fieldlog.by
        )
        self.refresh_room()
        self.query_one("#places", Listing).to_key(store.name)
        self.say(f"saved: site {name}")

    def action_rig_log(self) -> None:
        """Open the log of the rig that was last at the site under the cursor, else of the team's first rig."""
        from fieldlog.fieldwork.visit.day import rig_names
        from fieldlog.screens.rig_log import RigLogRoom

        place = self._places.get(self.query_one("#places", Listing).row_key or "")
        names = [place.rig] if place and place.rig else rig_names(self.fieldlog.workspace)
        if not names:
            self.say("no rig yet; the first check of one enters it")
            return
        self.app.push_screen(RigLogRoom(names[0]))

    def action_squad(self) -> None:
        """Open the squad."""
        from fieldlog.screens.squad import SquadRoom

        self.app.push_screen(SquadRoom())

    def action_exchange(self) -> None:
        """Open the exchange."""
        from fieldlog.screens.exchange import ExchangeRoom

        self.app.push_screen(ExchangeRoom())

    def action_plans(self) -> None:
        """Open the setup plans and the questions of the clearance."""
        from fieldlog.screens.plans import PlansRoom

        self.app.push_screen(PlansRoom())

    def leave(self) -> None:
        """There is no room before this one."""
        self.say("this is the first room; Q leaves fieldlog, everything is saved", "quiet")


def read_places(workspace: Workspace, today: dt.date) -> tuple[View, dict[str, Place]]:
    """Return the room as data, and the places by folder."""
    from fieldlog.fieldwork.visit.places import places
    from fieldlog.screens.places_view import places_view

    found = places(workspace, today)
    return places_view(workspace, found, today), {place.folder: place for place in found}
