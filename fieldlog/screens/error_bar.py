"""An error against its tolerance, drawn in text: the dotted part is what the uncertainty takes away."""

from __future__ import annotations

from fieldlog.screens.table import Span

__all__ = ["error_bar"]

_ROLES = {"pass": "good", "conditional pass": "warn", "conditional fail": "bad", "fail": "bad"}


def error_bar(
    error_nm: float | None, tolerance_nm: float, u_expanded_nm: float, *, width: int = 23, verdict: str = ""
) -> list[Span]:
    """Return a bar of ``width`` cells from −tolerance to +tolerance with a block where the error lies.

    An error outside has an arrow beyond the bar's end; without an error only tolerance and uncertainty are
    drawn.
    """
    inner = width - 2
    middle = inner // 2
    cells = []
    for place in range(inner):
        torque = (place - middle) / middle * tolerance_nm
        if place in (0, inner - 1):
            cells.append("├" if place == 0 else "┤")
        elif place == middle:
            cells.append("┼")
        else:
            cells.append("┄" if abs(torque) > tolerance_nm - u_expanded_nm else "─")
    left = right = " "
    at = None
    if error_nm is not None:
        place = middle + round(error_nm / tolerance_nm * middle)
        if error_nm < -tolerance_nm:
            left = "◀"
        elif error_nm > tolerance_nm:
            right = "▶"
        else:
            at = min(max(place, 0), inner - 1)
    role = _ROLES.get(verdict, "strong")
    if at is None:
        return [Span(left, role), Span("".join(cells), "quiet"), Span(right, role)]
    return [
        Span(" "),
        Span("".join(cells[:at]), "quiet"),
        Span("■", role),
        Span("".join(cells[at + 1 :]), "quiet"),
        Span(" "),
    ]
