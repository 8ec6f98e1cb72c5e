"""What every test gets."""

import asyncio
from collections.abc import AsyncIterator

import pytest
from hypothesis import settings

# A machine that is busy is no fault of the code: no test is judged by its time.
settings.register_profile("linewatch", deadline=None)
settings.load_profile("linewatch")


@pytest.fixture(autouse=True)
async def no_task_left_running() -> AsyncIterator[None]:
    """Fail a test that ends while a task it started still runs."""
    before = asyncio.all_tasks()
    yield
    finalizer = asyncio.current_task()
    left = {task for task in asyncio.all_tasks() - before if task is not finalizer}
    for task in left:
        task.cancel()
    await asyncio.gather(*left, return_exceptions=True)
    assert not left, f"still running: {sorted(task.get_name() for task in left)}"
