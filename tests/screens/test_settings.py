"""Settings of the laptop: taken over where right, named with their line where wrong."""

import pytest

from fieldlog.errors import InputError
from fieldlog.screens.settings import Settings, read_settings, settings_path


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
        assert "f2 rig log" in pair.text
        assert pair.app.theme == "high contrast"
