from tests.support.store import _the_clock_stands_a_day_after_the_lab_began  # noqa: F401 - for every test here
