"""Why something is as it is: a sentence for people that carries a code for programs."""

from __future__ import annotations

from enum import StrEnum


class Reason(str):
    """One thing a user should know of a part, a face or a hot spot, and can act on: a clause with its code.

    It prints and compares as its text. Whoever decides by a reason asks its ``code``: no code reads the sentence.

    Parameters
    ----------
    code
        Member of the room's own enumeration of reasons.
    text
        A clause without capital and full stop, such as ``outside the frame``.

    >>> class Code(StrEnum):
    ...     OUTSIDE_FRAME = "outside frame"
    >>> reason = Reason(Code.OUTSIDE_FRAME, "outside the frame")
    >>> print(reason, reason.code is Code.OUTSIDE_FRAME)
    outside the frame True
    """

    __slots__ = ("code",)
    code: StrEnum

    def __new__(cls, code: StrEnum, text: str) -> Reason:
        self = super().__new__(cls, text)
        self.code = code
        return self

    def __getnewargs__(self) -> tuple[StrEnum, str]:  # type: ignore[override]  # else it cannot cross processes
        return self.code, str(self)
