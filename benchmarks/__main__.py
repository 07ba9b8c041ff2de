"""Print every benchmark table in one run; ``--long`` runs the long campaigns instead."""

from __future__ import annotations

import subprocess
import sys
import time

from benchmarks import (
    arm,
    batch,
    corridor,
    crashes,
    kernel,
    large_mesh,
    long_use,
    orders,
    page,
    paths,
    payload,
    people,
    ranking,
    recheck,
    routes,
    settings,
    worker,
)


def demo() -> None:
    """Time the demo as a whole process, warm, and the help text."""
    print("\nWhole processes, warm (seconds, one run each)")
    for words in (["--help"], ["check", "brackenfall"]):
        command = [sys.executable, "-m", "reach", *words]
        subprocess.run(command, capture_output=True, check=False)
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=False)
        print(f"  reach {' '.join(words):24s} {time.perf_counter() - start:6.2f}")


def main() -> None:
    """Run what was asked for."""
    long = "--long" in sys.argv[1:]
    if not long:
        kernel.main()
    payload.main(long=long)
    paths.main(long=long)
    arm.main(long=long)
    corridor.main(long=long)
    worker.main(long=long)
    settings.main(long=long)
    ranking.main(long=long)
    recheck.main(long=long)
    if long:
        crashes.main()
        long_use.main()
    else:
        people.main()
        routes.main()
        orders.main()
        demo()
        large_mesh.main()
        page.main()
        batch.main()


if __name__ == "__main__":
    main()
