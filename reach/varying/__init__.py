"""What if: a scene and a procedure as they would be otherwise, without touching a file.

A variation is one change, read from a few words such as ``"SK3 blocked"``.  Varied copies say
everywhere that they are not what the files hold: they are evidence for the variation alone.
"""

from reach.varying.copies import sizes_problems, told_as, varied_copies
from reach.varying.making import UnfitError, varied
from reach.varying.reading import FORMS, parts_of, variations_of
from reach.varying.variation import (
    Handed,
    Limited,
    Marked,
    Reeled,
    Shifted,
    Sized,
    Swap,
    Variation,
    words_of,
)

__all__ = [
    "FORMS",
    "Handed",
    "Limited",
    "Marked",
    "Reeled",
    "Shifted",
    "Sized",
    "Swap",
    "UnfitError",
    "Variation",
    "parts_of",
    "sizes_problems",
    "told_as",
    "variations_of",
    "varied",
    "varied_copies",
    "words_of",
]
