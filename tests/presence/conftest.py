"""What the tests of who is in the building share with those of duty."""

from tests.duty.conftest import each_minute, furnished, new_task, stopped_clock

__all__ = ("each_minute", "furnished", "new_task", "stopped_clock")
