"""Questions put while converting, numbered in the order they arise, with the answers given so far."""

from __future__ import annotations

from collections.abc import Mapping

from towzone.errors import UsageError, quoted
from towzone.model.draft import Question

__all__ = ["Asker"]


class Asker:
    """Collects what only a person can decide.

    Parameters
    ----------
    answers : mapping
        Answers by number of the question. The numbers stay the same from run to run, because every
        question is counted, answered or not.
    """

    def __init__(self, answers: Mapping[int, str]) -> None:
        self._answers = dict(answers)
        self._asked = 0
        self._open: list[Question] = []
        self.answered: list[tuple[str, str]] = []

    def ask(self, where: str, text: str, allowed: tuple[str, ...]) -> str:
        """Return the answer to a question, or empty text when there is none yet.

        Raises
        ------
        UsageError
            An answer was given that is not among those allowed.
        """
        self._asked += 1
        allowed = tuple(str(answer) for answer in allowed)  # plain words, whatever list they come from
        answer = self._answers.pop(self._asked, "").strip()
        if not answer:
            self._open.append(Question(number=self._asked, where=where, text=text, answers=allowed))
            return ""
        if answer not in allowed:
            message = f"answer {quoted(answer)} to question {self._asked} is not one of {', '.join(allowed)}"
            raise UsageError(message)
        self.answered.append((where, f"question {self._asked} was answered {quoted(answer)}: {text}"))
        return answer

    def questions(self) -> tuple[Question, ...]:
        """Return the open questions; to be called when all were put.

        Raises
        ------
        UsageError
            An answer names a question that was not asked, while none is open.
        """
        if self._answers and not self._open:
            numbers = ", ".join(str(number) for number in sorted(self._answers))
            message = f"there is no question {numbers}; {self._asked} were asked"
            raise UsageError(message)
        return tuple(self._open)
