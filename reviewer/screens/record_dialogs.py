"""The questions that the recording screen asks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from reviewer.review.plain import plain

_KEYS = "↑ ↓ choose   enter take   esc back"


class Choice(ModalScreen[str | None]):
    """A question with a list of answers; the result is the answer's id, None when it is left.

    Arrow keys and Enter, the letter before an answer, or the mouse choose.
    """

    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Leave")]

    DEFAULT_CSS = """
    Choice { align: center middle; }
    Choice > Vertical {
        width: 72; max-width: 95%; height: auto; max-height: 90%;
        padding: 1 2; border: round $primary; background: $surface;
    }
    Choice Static { width: 1fr; height: auto; margin-bottom: 1; }
    Choice #keys { height: 1; margin: 1 0 0 0; text-style: dim; }
    Choice OptionList, Choice OptionList:focus {
        height: auto; max-height: 12; border: none; background: $surface; padding: 0;
    }
    """

    def __init__(self, question: str, answers: Sequence[tuple[str, str, str]]) -> None:
        """answers: (id, key or "", words) of each."""
        super().__init__()
        self._question = question
        self._answers = answers

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static(plain(self._question), markup=False)
            yield OptionList(
                *[
                    Option(plain(f"{key}  {words}" if key else words), id=answer)
                    for answer, key, words in self._answers
                ],
                markup=False,
            )
            yield Static(_KEYS, id="keys", markup=False)

    def on_mount(self) -> None:
        for answer, key, words in self._answers:
            if key:
                self._bindings.bind(key.lower(), f"answer('{answer}')", words)

    def action_answer(self, answer: str) -> None:
        self.dismiss(answer)

    def action_leave(self) -> None:
        self.dismiss(None)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(event.option.id)
