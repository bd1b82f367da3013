"""Places: the first room, where to and what is left undone."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork.entry import parse_number
from fieldlog.fieldwork.places import Place, places
from fieldlog.screens.keys import key
from fieldlog.screens.places_view import DUE_COLUMNS, PLACE_COLUMNS, place_lines, places_view
from fieldlog.screens.room import Room
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

__all__ = ["PlacesRoom"]


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
        key("filter"),
    ]

    def body(self) -> ComposeResult:
        """Sites, what is due, and one line of the site under the cursor."""
        yield PaneTitle("Places", id="places_title")
        yield Listing(*PLACE_COLUMNS, id="places", empty="no site yet; press a to add one")
        yield PaneTitle("Due", id="due_title")
        yield Listing(*DUE_COLUMNS, id="due", heading=False, empty="nothing is due within 30 days")
        yield PaneTitle("", id="place_title")
        yield TextLines("", id="place")

    def begin(self) -> None:
        """Begin on the list of sites."""
        self.set_focus(self.query_one("#places", Listing))

    def refresh_room(self) -> None:
        """Read all sites anew."""
        view = places_view(self.fieldlog.workspace, self.fieldlog.today)
        self._places: dict[str, Place] = {
            place.folder: place for place in places(self.fieldlog.workspace, self.fieldlog.today)
        }
        self.query_one("#title", TitleLine).show(view.left, view.right)
        for name, pane in zip(("places", "due"), view.panes, strict=True):
            self.query_one(f"#{name}", Listing).show_rows(pane.rows)
            self.query_one(f"#{name}_title", PaneTitle).show(note=pane.note)
        self._tell_place()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the site under the cursor."""
        if event.listing.id == "places":
            self._tell_place()

    def _tell_place(self) -> None:
        place = self._places.get(self.query_one("#places", Listing).row_key or "")
        self.query_one("#place_title", PaneTitle).show(place.name if place else "")
        self.query_one("#place", TextLines).show_lines(*(place_lines(place) if place else [""]))

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
        self.ask(
            f"latitude of {name} in degrees, south negative:",
            lambda latitude: self._ask_height(name, parse_number(latitude, "latitude")),
        )

    def _ask_height(self, name: str, latitude_deg: float) -> None:
        self.ask(
            f"height of {name} above sea level in metres:",
            lambda height: self._add(name, latitude_deg, parse_number(height, "height")),
        )

    def _add(self, name: str, latitude_deg: float, height_m: float) -> None:
        from fieldlog.fieldwork.sites import enter_site

        store = enter_site(
            self.fieldlog.workspace, name, latitude_deg=latitude_deg, height_m=height_m, by=self.fieldlog.by
        )
        self.refresh_room()
        self.query_one("#places", Listing).to_key(store.name)
        self.say(f"saved: site {name}")

    def action_rig_log(self) -> None:
        """Open the log of the rig that was last at the site under the cursor, else of the team's first rig."""
        from fieldlog.fieldwork.day import rig_names
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

    def leave(self) -> None:
        """There is no room before this one."""
        self.say("this is the first room; Q leaves fieldlog, everything is saved", "quiet")
