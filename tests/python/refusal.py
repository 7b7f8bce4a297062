"""What every refusal of the library is held to."""

from collections.abc import Callable

import pytest
from wetspan import InputError


def refused(action: Callable[[], object], *fragments: str) -> None:
    """Check that an action is refused in one line that holds all the fragments."""
    with pytest.raises(InputError) as caught:
        action()
    message = str(caught.value)
    assert "\n" not in message
    for fragment in fragments:
        assert fragment in message, message
