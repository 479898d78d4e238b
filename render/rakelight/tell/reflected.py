"""Where the light went that is followed from surface to surface, in words and as a record."""

from typing import Any

from rakelight.light.bounce import Balance


def reflected_lines(balance: Balance | None) -> tuple[str, ...]:
    """What became of the light, and how far it was followed; nothing without bounced light."""
    if balance is None:
        return ()
    return (
        f"Check of the light: of {balance.arrived_lm:.0f} lm that fall on surfaces, "
        f"{balance.absorbed_lm:.0f} lm are absorbed and {balance.lost_lm:.0f} lm leave through "
        f"openings; {100 * balance.error:+.2f} % is the sums' error.",
        f"{balance.passes} reflections were followed, until what was still to come was "
        f"{100 * balance.residual:.2g} % of the brightest surface's.",
    )


def reflected_record(balance: Balance | None) -> dict[str, Any] | None:
    """The same in SI with every digit, for machines; None without bounced light."""
    if balance is None:
        return None
    return {
        "arrived_lm": balance.arrived_lm,
        "absorbed_lm": balance.absorbed_lm,
        "lost_lm": balance.lost_lm,
        "error": balance.error,
        "reflections": balance.passes,
        "residual": balance.residual,
    }
