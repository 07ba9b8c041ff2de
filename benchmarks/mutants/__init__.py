"""Would a test notice a turned sign?  Mutants of the code that decides verdicts, each judged.

``python -m benchmarks.mutants --sample 300 --seed 1 --seconds 3600`` changes one comparison, sign,
``min``, ``not`` or ``and`` at a time and asks the tests that run that line.  Nothing is written:
a mutant takes the place of a function in the memory of a process of its own.
"""

from benchmarks.mutants.making import Mutant, grown, mutants_of

__all__ = ["Mutant", "grown", "mutants_of"]
