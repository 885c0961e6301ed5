"""Validation rules of the entries: what may be typed, with the message before and the message after."""

from collections.abc import Mapping

from sheetgen.layout import vocabulary
from sheetgen.layout.number_text import shown_number
from sheetgen.model.layout import Rule
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["number_rule", "own_rule", "start_rule", "text_rule", "words_rule"]

_INLINE_LIST_LIMIT = 255

Texts = Mapping[str, str]


def words_rule(texts: Texts, words: tuple[str, ...], title: str, prompt: str, section: str = "") -> Rule:
    """Return a rule that takes one of some words, offered as a list.

    Parameters
    ----------
    section : of the texts that show these code words; empty: they are no code words, but names and the like.
    """
    shown = tuple(texts[f"{section}.{word}"] for word in words) if section else words
    error = texts["rule.list"].format(words=", ".join(shown))
    return Rule("list", title, prompt, error[:255], words=shown, codes=() if shown == words else words)


def number_rule(texts: Texts, kind: str, minimum: float, maximum: float, title: str, prompt: str) -> Rule:
    """Return a rule that takes a number in a range; kind is `whole` or `decimal`."""
    limits = {"minimum": shown_number(minimum, texts), "maximum": shown_number(maximum, texts)}
    error = texts[f"rule.{kind}"].format(**limits)
    return Rule(kind, title, f"{prompt}. {error}", error, minimum=minimum, maximum=maximum)


def text_rule(texts: Texts, maximum: int, title: str, prompt: str) -> Rule:
    """Return a rule that takes a text of limited length."""
    error = texts["rule.length"].format(maximum=maximum)
    return Rule("length", title, prompt, error, minimum=0, maximum=maximum)


def start_rule(name: str, protocol: Protocol, settings: SheetSettings, texts: Texts) -> Rule:
    """Return the rule of an entry on the tab Start.

    Raises
    ------
    KeyError : there is no such entry.
    """
    title, prompt = texts[f"entry.{name}"], texts[f"hint.{name}"]
    lists = {
        "cautions_confirmed": vocabulary.CONFIRM_WORDS,
        "data_source": vocabulary.DATA_SOURCE_WORDS,
        "sex_equation": vocabulary.sex_words(protocol),
        "side": vocabulary.SIDE_WORDS,
    }
    numbers = {
        "age_years": ("whole", 5, 110),
        "mass_kg": ("decimal", 10, 350),
        "zero_mm": ("decimal", -10, 10),
        "zero_2_mm": ("decimal", -10, 10),
        "length_upper_arm_cm": ("decimal", 10, 60),
        "length_thigh_cm": ("decimal", 15, 80),
    }
    if name in lists:
        return words_rule(texts, lists[name], title, prompt, "word")
    if name in numbers:
        return number_rule(texts, *numbers[name], title, prompt)
    if name.startswith("caliper_id"):
        return _caliper_rule(name, settings, texts, title, prompt)
    if name == "changed_from":
        known = 'ISNUMBER(MATCH({changed_from}&"",{change_first}:{change_last},0))'
        error = texts["rule.changed_from_error"]
        return Rule("custom", title, texts["rule.changed_from"], error, formula=f"={known}")
    if name == "participant_today":
        return text_rule(texts, 12, title, prompt)
    raise KeyError(name)


def own_rule(title: str, texts: Texts) -> Rule:
    """Return the rule of a line of own working: any number."""
    error = texts["rule.own_error"]
    return Rule("decimal", title[:32], texts["rule.own"], error, minimum=-100000, maximum=100000)


def _caliper_rule(name: str, settings: SheetSettings, texts: Texts, title: str, prompt: str) -> Rule:
    """A list, or a test against the register where the words cannot stand in the rule itself.

    A list in a rule is one text with commas between the words, of at most 255 characters.
    """
    words = tuple(caliper.identifier for caliper in settings.calipers)
    plain = not any("," in word or '"' in word for word in words)
    if plain and len(",".join(words)) <= _INLINE_LIST_LIMIT:
        return words_rule(texts, words, title, prompt)
    known = f'ISNUMBER(MATCH({{{name}}}&"",{{register_identifier_first}}:{{register_identifier_last}},0))'
    return Rule("custom", title, prompt, prompt, formula=f"={known}")
