"""Numbered questions, and the answers a person gave to them.

Numbers must not move when some questions are answered, so questions are asked in rounds: a later round
begins only when all of the earlier ones are answered, and answered questions keep their numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from towzone.errors import UsageError, quoted
from towzone.model.draft import Question

__all__ = ["Asker"]

_Value = TypeVar("_Value")


class Asker:
    """Asks, or takes the answer that was given.

    Parameters
    ----------
    answers : mapping of int to str
        Answers by the number of the question.
    """

    def __init__(self, answers: Mapping[int, str]) -> None:
        self._answers = dict(answers)
        self._number = 0
        self.open: list[Question] = []
        self.answered: list[tuple[str, str]] = []

    def ask(
        self, where: str, text: str, answers: tuple[str, ...], take: Callable[[str], _Value | None]
    ) -> _Value | None:
        """Return what an answer means, or ``None`` when the question stays open.

        Parameters
        ----------
        where, text : str
            The place in the notice and the question.
        answers : tuple of str
            What may be answered, as shown to a person.
        take : callable
            Turns an answer into its meaning; ``None`` for one that is not allowed.

        Raises
        ------
        UsageError
            The answer given is not one of those allowed.
        """
        self._number += 1
        given = self._answers.get(self._number)
        if given is None:
            self.open.append(Question(number=self._number, where=where, text=text, answers=answers))
            return None
        value = take(given)
        if value is None:
            message = (
                f"--answer {self._number}={given}: {quoted(given)} does not answer question {self._number}"
                f" ({text}); answer {' or '.join(answers)}"
            )
            raise UsageError(message)
        self.answered.append((where, f"question {self._number}, {text}: answered {quoted(given)}"))
        return value

    def check_all_used(self) -> None:
        """Refuse answers to questions that were never asked.

        Raises
        ------
        UsageError
            Such an answer was given and no question is open that might lead to it.
        """
        unused = sorted(number for number in self._answers if number > self._number or number < 1)
        if unused and not self.open:
            message = f"--answer {unused[0]}: there is no question {unused[0]}"
            raise UsageError(message)
