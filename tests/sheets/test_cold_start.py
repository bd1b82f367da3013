"""A coach's page is made without loading what only other pages need."""

import subprocess
import sys

from tests.sheets.making import make_workspace


def test_a_coachs_page_loads_no_numerical_library(tmp_path):
    with make_workspace(tmp_path / "workspace", [f"R{number:02d}" for number in range(1, 7)]):
        pass
    code = (
        "import sys; from fieldlog.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "print({name.split('.')[0] for name in sys.modules} & {'numpy', 'scipy', 'textual', 'openpyxl'})"
    )
    page = tmp_path / "coach.pdf"
    arguments = ["--workspace", tmp_path / "workspace", "sheet", "coach", "--site", "Boathouse", "-o", page]
    done = subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)], capture_output=True, text=True, check=True
    )
    assert page.read_bytes().startswith(b"%PDF")
    assert done.stdout.splitlines()[-1] == "set()"
