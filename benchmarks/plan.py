"""How long a whole session plan takes from plain values: no database, no page, in processor time.

    .venv/bin/python -m benchmarks.plan

The plan is that of the tests: film in six steps with solutions to mix, a five-reel tank, the taps measured. Figures are
the median and the slowest tenth of many plans, after one that warms up; imports are not counted.
"""

import statistics
import time
from collections.abc import Callable

from tests.planning.making import fixer, plan, today

ROUNDS = 400


def main() -> None:
    taps = today(21.0, room_celsius=20.0, hot_celsius=50.0, cold_celsius=8.0)
    baths = [fixer(number) for number in range(1, 11)]
    print(f"{'plan':<36}{'median ms':>11}{'slow ms':>9}")
    _row("all mixed fresh, taps not measured", plan)
    _row("all mixed fresh, taps measured", lambda: plan(conditions=taps))
    _row("fixer from one of ten shared baths", lambda: plan(conditions=taps, baths=baths))


def _row(name: str, make: Callable[[], object]) -> None:
    make()
    times = []
    for _ in range(ROUNDS):
        began = time.process_time_ns()
        make()
        times.append((time.process_time_ns() - began) / 1e6)
    print(f"{name:<36}{statistics.median(times):>11.2f}{statistics.quantiles(times, n=10)[-1]:>9.2f}")


if __name__ == "__main__":
    main()
