"""Two threads that behave like a plain loop."""

import pytest

from firstwash.parallel import in_parallel


def test_work_in_parallel_keeps_its_order_and_raises() -> None:
    assert in_parallel(lambda i: i * i, range(50)) == [i * i for i in range(50)]
    assert in_parallel(lambda i: i, []) == []

    def fail(i: int) -> int:
        if i == 3:
            raise ValueError("three")
        return i

    with pytest.raises(ValueError, match="three"):
        in_parallel(fail, range(6))
