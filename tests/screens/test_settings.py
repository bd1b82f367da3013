"""Settings of the laptop: taken over where right, named with their line where wrong."""

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.batch.batches import batches_of
from fieldlog.fieldwork.visit.visits import visits_of
from fieldlog.screens.settings import Settings, read_settings, settings_path
from fieldlog.screens.words import Shown


@pytest.fixture
def written(tmp_path):
    def write(text):
        path = tmp_path / "settings.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_without_a_file_nothing_is_set(tmp_path):
    assert read_settings(tmp_path / "none.toml") == Settings()


def test_theme_characters_and_keys_are_taken_over(written):
    path = written('theme = "high contrast"\nascii_only = true\n[keys]\nnote = "f2"\nundo = "ctrl+u"\n')
    settings = read_settings(path)
    assert (settings.theme, settings.ascii_only) == ("high contrast", True)
    assert settings.keys == {"note": "f2", "undo": "ctrl+u"}


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ('theme = "neon"\n', "line 1: there is no theme 'neon'"),
        ('\n\nascii_only = "yes"\n', "line 3: 'yes' is neither"),
        ("colour = 1\n", "line 1: there is no setting 'colour'"),
        ("keys = 3\n", "keys is no table"),
        ('decimal_sign = ";"\n', "line 1: there is no decimal sign ';'"),
        ('theme = "hall"\ntorque_unit = "Nm"\n', "line 2: there is no torque unit 'Nm'"),
        ("date_order = 3\n", "line 1: there is no date order 3"),
        ("mass_unit = ['kg']\n", "line 1: there is no mass unit"),
        ('[keys]\nshout = "a"\n', "line 2: no key means 'shout'"),
        ('[keys]\nnote = "u"\n', "line 2: u already means 'undo'"),
        ('[keys]\nnote = "ctrl+s"\n', "terminals keep ctrl"),
        ("[keys]\nnote = 5\n", "5 is no key"),
        ("theme = \n", "line 1"),
        (b"\xff\xfe\x00", "cannot be read"),
    ],
)
def test_a_fault_is_named_with_its_line(written, text, word):
    with pytest.raises(InputError, match=r"settings\.toml") as error:
        read_settings(written(text))
    assert word in str(error.value)


def test_the_file_can_be_named_in_the_environment(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDLOG_SETTINGS", str(tmp_path / "mine.toml"))
    assert settings_path() == tmp_path / "mine.toml"


async def test_a_remapped_key_is_shown_where_it_works(hands, workspace):
    async with hands(workspace, keymap={"rig_log": "f2"}, theme="high contrast") as pair:
        assert "F2 rig log" in pair.text
        assert pair.app.theme == "high contrast"


def test_units_signs_and_dates_are_taken_over(written):
    shown = read_settings(
        written('decimal_sign = ","\ndate_order = "year first"\ntorque_unit = "lbf·ft"\nmass_unit = "lb"\n')
    ).shown
    assert shown == Shown(",", "year first", "lbf·ft", "lb")


async def test_the_room_shows_what_holds_and_names_a_fault_with_its_line(
    hands, workspace, written, monkeypatch
):
    path = written('theme = "hall"\ndecimal_sign = ","\n')
    monkeypatch.setenv("FIELDLOG_SETTINGS", str(path))
    async with hands(workspace, size=(120, 40)) as pair:
        await pair.press("f9")
        assert type(pair.room).__name__ == "SettingsRoom"
        assert any(words.startswith("decimal_sign ,") for words in pair.rows("#laptop"))
        assert str(path.name) in pair.text
        assert "tolerances" in pair.text
        path.write_text("theme = 3")
        await pair.press("escape f9")
        assert "line 1" in pair.text


async def test_results_are_shown_in_the_unit_of_the_laptop_and_stored_as_they_were(hands, sample):
    from fieldlog.screens.bench import BenchRoom

    store = sample.site_named("Skarvik boathouse")
    before = {revision.id for revision in store.revisions()}
    visit = visits_of(store)[0].record
    batch = batches_of(store, visit)[0].record
    texts = []
    for shown in (Shown(), Shown(decimal_sign=",", torque_unit="lbf·ft", mass_unit="lb")):
        async with hands(sample, size=(120, 40), shown=shown) as pair:
            pair.app.push_screen(
                BenchRoom(store, visit, batch.id, batch.entries[0].athlete_id, site_name="Skarvik")
            )
            await pair.settle()
            texts.append(pair.text)
    assert "N·m" in texts[0]
    assert " kg" in texts[0]
    assert "lbf·ft" in texts[1]
    assert " lb " in texts[1]
    assert {revision.id for revision in store.revisions()} == before
