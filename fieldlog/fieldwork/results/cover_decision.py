"""What was decided of a result under a failed check, as it stands beside its cover."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Decision"]

_WORDS = {"retest": "retest asked"}


@dataclass(frozen=True)
class Decision:
    """What the lead decided of a suspect result: ``released``, ``corrected``, ``withheld`` or ``retest``.

    ``change_nm`` ± ``u_expanded_nm`` is the change of the rig's error it was decided on, at ``torque_nm``;
    ``factor`` is what a correction multiplies torques by.
    """

    word: str
    by: str
    remark: str = ""
    torque_nm: float | None = None
    change_nm: float | None = None
    u_expanded_nm: float | None = None
    factor: float = 1.0

    @property
    def words(self) -> str:
        """What was decided and by whom, for example ``released by Ann``."""
        return f"{_WORDS.get(self.word, self.word)} by {self.by}"

    @property
    def change_pct(self) -> float | None:
        """The change in percent of the torque it was worked out for."""
        if self.change_nm is None or not self.torque_nm:
            return None
        return 100.0 * self.change_nm / self.torque_nm

    @property
    def standard_uncertainty_nm(self) -> float:
        """What the decision adds to the rig's standard uncertainty, in N·m.

        Released: the error may lie anywhere up to |D| + U_D, a rectangular distribution (GUM 4.3.7).
        Corrected: U_D/2.
        """
        if self.change_nm is None or self.u_expanded_nm is None:
            return 0.0
        if self.word == "released":
            return (abs(self.change_nm) + self.u_expanded_nm) / math.sqrt(3.0)
        return self.u_expanded_nm / 2.0 if self.word == "corrected" else 0.0

    @property
    def change_words(self) -> str:
        """The change with its uncertainty, for example ``rig changed by +3.4 ± 0.1 %``."""
        if self.change_pct is None or self.u_expanded_nm is None or not self.torque_nm:
            return "how far the rig changed is not known"
        sign = "−" if self.change_pct < 0 else "+"
        u_pct = math.ceil(1000.0 * self.u_expanded_nm / self.torque_nm) / 10.0
        return f"rig changed by {sign}{abs(self.change_pct):.1f} ± {u_pct:.1f} %"
