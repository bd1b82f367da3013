"""Pictures of the four pages of the sample workspace, to be looked at: python -m tests.sheets.thumbnails FOLDER."""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path

import pypdfium2

from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.sheets.making import make_sheet, subject_of
from fieldlog.store.workspace import Workspace

SAMPLE = Path(__file__).resolve().parents[2] / "sample_sites"
SITE = "Skarvik boathouse"


def pictures(pdf: bytes, *, scale: float = 1.0, grey: bool = False) -> list:
    """Return each page of a PDF as a picture, 72 dots an inch times ``scale``."""
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    try:
        return [page.render(scale=scale, grayscale=grey).to_pil() for page in document]
    finally:
        document.close()


def sample_pages() -> dict[str, bytes]:
    """The four pages of the sample's latest visit as PDFs."""
    with tempfile.TemporaryDirectory() as folder:
        copy = shutil.copytree(SAMPLE, Path(folder) / "sample")
        with Workspace.open(copy) as workspace:
            store = workspace.site_named(SITE)
            visit = find_visit(store).record
            athlete = sets_of(store, visit.id)[0].record.athlete_id
            about = {"coach": {}, "athlete": {"athlete": athlete}, "rig": {}, "visit": {}}
            return {
                kind: make_sheet(workspace, subject_of(workspace, store, visit, kind, **chosen)).pdf
                for kind, chosen in about.items()
            }


def main() -> int:
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for kind, pdf in sample_pages().items():
        for number, picture in enumerate(pictures(pdf, scale=0.5), start=1):
            file = folder / f"{kind}-{number}.png"
            picture.save(file)
            print(file)
    return 0


if __name__ == "__main__":
    sys.exit(main())
