"""What practice tells of an eye, in sentences; js/practice/sentences.js of the page says the same by these messages."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.practice.estimates import Estimate, Eye
from fitcheck.practice.exercises import Exercise, ExerciseId, model
from fitcheck.text.catalogue import Messages

__all__ = ["bias_of", "figure", "sentences", "title_of", "word_title"]

_MINUS = "\u2212"
_PERCENT = 100


def title_of(exercise: ExerciseId, messages: Messages) -> str:
    """What an exercise is called in a sentence."""
    return messages.texts[f"exercise.title.{exercise}"]


def word_title(exercise: Exercise, word: str, messages: Messages) -> str:
    """What a word is called, as on the page for the yard."""
    return messages.texts[f"page.word.{exercise.spoken}.{word}"]


def figure(value: float, exercise: Exercise, messages: Messages) -> str:
    """A number of the exercise with its unit; a share in per cent."""
    unit, shown = ("percent", value * _PERCENT) if exercise.unit == "1" else (exercise.unit, value)
    digits = f"{abs(shown):.{exercise.decimals}f}"
    sign = _MINUS if shown < 0 and digits.strip("0.") else ""
    return messages.say(f"exercise.unit.{unit}", figure=sign + messages.number(digits))


def sentences(exercise: Exercise, eye: Eye, right: int, messages: Messages) -> Iterator[str]:
    """How many words were right, then bias, spread, where the middle words lie, slips."""
    yield messages.say("exercise.as_in_book", right=right, answers=eye.answers)
    if eye.answers < model().needed:
        yield messages.say("exercise.few", answers=eye.answers, needed=model().needed)
        return
    yield bias_of(exercise, eye, messages) or _no_bias(exercise, eye.bias, messages)
    yield _spread(exercise, eye.spread, messages)
    # Where the bias is open, so is where a word begins.
    settled = eye.bias.low is not None and eye.bias.high is not None
    for place, word in enumerate(exercise.words[1:-1] if settled else ()):
        low, high = exercise.bounds[place : place + 2]
        ends = {"low": low, "high": high, "begins": low + eye.bias.value, "ends": high + eye.bias.value}
        shown = {name: figure(end, exercise, messages) for name, end in ends.items()}
        yield messages.say("exercise.word", word=word_title(exercise, word, messages), **shown)
    if eye.lapse >= model().slips:
        percent = messages.say("exercise.unit.percent", figure=f"{eye.lapse * _PERCENT:.0f}")
        yield messages.say("exercise.slips", percent=percent)


def bias_of(
    exercise: Exercise, eye: Eye, messages: Messages, message: str = "exercise.one_way", **parts: str
) -> str | None:
    """To which side the eye errs, and how far; None where the interval does not settle a side.

    Bounds that lie higher than the book's are those of an eye that sees less than there is.
    """
    value, low, high = eye.bias
    if low is not None and low > 0:
        way, ends = "less", (low, high)
    elif high is not None and high < 0:
        way, ends = "more", (-high, None if low is None else -low)
    else:
        return None
    return messages.say(
        message,
        amount=figure(abs(value), exercise, messages),
        way=messages.texts[f"exercise.{way}.{exercise.id}"],
        range=_range(exercise, *ends, messages),
        **parts,
    )


def _no_bias(exercise: Exercise, bias: Estimate, messages: Messages) -> str:
    if bias.low is None or bias.high is None:
        return messages.say("exercise.no_way_yet")
    return messages.say(
        "exercise.no_way",
        low=figure(bias.high, exercise, messages),
        less=messages.texts[f"exercise.less.{exercise.id}"],
        high=figure(-bias.low, exercise, messages),
        more=messages.texts[f"exercise.more.{exercise.id}"],
    )


def _spread(exercise: Exercise, spread: Estimate, messages: Messages) -> str:
    value, low, high = spread
    if low is not None and high is not None:
        shown = _range(exercise, low, high, messages)
        return messages.say("exercise.spread", amount=figure(value, exercise, messages), range=shown)
    if high is not None:
        return messages.say("exercise.spread_least", high=figure(high, exercise, messages))
    if low is not None:
        return messages.say("exercise.spread_most", low=figure(low, exercise, messages))
    return messages.say("exercise.spread_yet")


def _range(exercise: Exercise, low: float | None, high: float | None, messages: Messages) -> str:
    ends = {name: figure(end, exercise, messages) for name, end in (("low", low), ("high", high)) if end is not None}
    form = "both" if len(ends) > 1 else next(iter(ends), "none")
    return messages.say(f"exercise.range.{form}", **ends)
