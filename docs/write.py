"""Write the pages of the user's guide that are made from the program itself.

Run it from anywhere: ``python docs/write.py``.  Sessions of the page on commands are run for it.
With ``--check`` nothing is written; the exit code is 1 when a page is out of date.
"""

from __future__ import annotations

import sys
from pathlib import Path

DOCS = Path(__file__).parent
sys.path.insert(0, str(DOCS))
sys.path.insert(0, str(DOCS.parent))

from pages import checks, commands, records, sessions  # noqa: E402


def made_pages() -> dict[str, str]:
    """Return name -> text of every page that is made, sessions included."""
    return {**quick_pages(), **commands.pages(sessions.run_all())}


def quick_pages() -> dict[str, str]:
    """Return name -> text of the pages for which nothing is run."""
    return {**records.pages(), **checks.pages()}


def main(arguments: list[str]) -> int:
    """Write the pages, or only say which are out of date."""
    old = [name for name, text in made_pages().items() if _put(name, text, "--check" in arguments)]
    for name in old:
        print(f"docs/{name}")
    return int(bool(old) and "--check" in arguments)


def _put(name: str, text: str, only_look: bool) -> bool:
    """Write a page where it differs, and return whether it did."""
    path = DOCS / name
    if path.is_file() and path.read_text(encoding="utf-8") == text:
        return False
    if not only_look:
        path.write_text(text, encoding="utf-8", newline="\n")
    return True


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
