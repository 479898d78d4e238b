"""What a scene is refused for."""

import pytest

from rakelight.errors import InputError


def refused(build, *args, **keywords):
    """Faults of a scene that cannot be built."""
    with pytest.raises(InputError) as caught:
        build(*args, **keywords)
    return list(caught.value.faults)
