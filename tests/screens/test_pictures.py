"""What the README shows of the rooms is what they look like."""

from tests.screens.pictures import README, ROOMS, in_readme, section


def test_the_readme_shows_every_room_as_its_kept_text_has_it() -> None:
    text = README.read_text(encoding="utf-8")
    assert text == in_readme(text), "renew it: python -m tests.screens.pictures"


def test_a_picture_is_as_wide_as_a_terminal_at_most() -> None:
    blocks = section().split("```text\n")[1:]
    assert len(blocks) == len(ROOMS) + 1
    assert max(len(line) for block in blocks for line in block.split("\n```")[0].splitlines()) <= 80
