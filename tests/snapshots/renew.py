"""`python -m tests.snapshots.renew`: write all snapshots, diagrams, the reference and the README's quotations anew."""

from tests.snapshots.diagrams import wanted as wanted_diagrams
from tests.snapshots.failures import wanted as wanted_failures
from tests.snapshots.readme import README, RECORDINGS, SUPPLY, renew
from tests.snapshots.reference import wanted as wanted_reference
from tests.snapshots.screens import KEPT
from tests.snapshots.screens import wanted as wanted_screens
from tests.snapshots.supply import PICTURE
from tests.snapshots.supply import drawn as supply_drawn
from tests.snapshots.trusted import PAGE
from tests.snapshots.trusted import renew as renew_trusted

if __name__ == "__main__":
    KEPT.mkdir(exist_ok=True)
    for old in KEPT.iterdir():
        old.unlink()
    for path, text in wanted_screens().items():
        path.write_text(text, encoding="utf-8")
    for path, drawn in wanted_diagrams().items():
        path.write_bytes(drawn)
    for path, text in (wanted_reference() | wanted_failures()).items():
        path.write_text(text, encoding="utf-8")
    PAGE.write_text(renew_trusted(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    PICTURE.write_text(supply_drawn(), encoding="utf-8")
    for page in (README, RECORDINGS, SUPPLY):
        page.write_text(renew(page.read_text(encoding="utf-8")), encoding="utf-8")
