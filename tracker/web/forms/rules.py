"""A field for a rule as JSON text, and how a stored rule is laid out as text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final, NoReturn

from django import forms

LONGEST: Final = 20_000
WIDTH: Final = 76
ROWS: Final = (3, 16)


class RuleField(forms.CharField):
    """A rule as JSON text; the object inside, None where nothing is written."""

    def __init__(self, **given: Any) -> None:
        attributes = {
            "rows": ROWS[0],
            "cols": "72",
            "class": "rule",
            "spellcheck": "false",
            "autocomplete": "off",
            "autocapitalize": "off",
        }
        given.setdefault("widget", RuleText(attrs=attributes))
        given.setdefault("required", False)
        super().__init__(max_length=LONGEST, **given)

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        try:
            return read_rule(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None

    def run_validators(self, value: Any) -> None:
        """The length is that of the text, which is an object by now."""

    def prepare_value(self, value: Any) -> Any:
        return rule_text(value) if isinstance(value, Mapping) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(self.to_python(data) != (initial or None))
        except forms.ValidationError:
            return True


class RuleText(forms.Textarea):
    """As high as what stands in it, within reason."""

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context: dict[str, Any] = super().get_context(name, value, attrs)
        lines = str(value or "").count("\n") + 1
        context["widget"]["attrs"]["rows"] = min(max(lines + 1, ROWS[0]), ROWS[1])
        return context


def read_rule(text: str) -> Mapping[str, Any]:
    """Return the object that a text says; ValueError with where it cannot be read."""
    if len(text) > LONGEST:
        raise ValueError(
            f"The rule has {len(text)} characters; at most {LONGEST} are read. "
            "Split it into several provisions."
        )
    try:
        read = json.loads(
            text, parse_constant=_no_constant, object_pairs_hook=_no_key_twice
        )
    except json.JSONDecodeError as error:
        raise ValueError(
            f"This is not JSON: line {error.lineno}, column {error.colno}: "
            f"{_said(error)}. See how a rule is written, below."
        ) from None
    except RecursionError:
        raise ValueError(
            "The rule is nested too deeply. Split it into several provisions."
        ) from None
    if not isinstance(read, Mapping) or not read:
        raise ValueError(
            'A rule is an object with at least one key, such as {"always": true}.'
        )
    return read


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is not a number that a rule may hold.")


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read: dict[str, Any] = {}
    for key, value in pairs:
        if key in read:
            raise ValueError(
                f'"{key}" stands twice in one object, and only one would count. '
                'Join them with {"all": [...]} or {"any": [...]}.'
            )
        read[key] = value
    return read


def _said(error: json.JSONDecodeError) -> str:
    found = error.doc[error.pos : error.pos + 12].strip()
    expected = error.msg[:1].lower() + error.msg[1:]
    return f'{expected}, found "{found}"' if found else f"{expected}, found its end"


def rule_text(value: Any, indent: str = "") -> str:
    """Return JSON over as few lines as are readable: what fits stays on one."""
    flat = json.dumps(value, ensure_ascii=False)
    if len(indent) + len(flat) <= WIDTH or not isinstance(value, Mapping | list):
        return flat
    inner = indent + "  "
    if isinstance(value, Mapping):
        rows = [
            f"{json.dumps(key, ensure_ascii=False)}: {rule_text(member, inner)}"
            for key, member in value.items()
        ]
    else:
        rows = [rule_text(member, inner) for member in value]
    opened, closed = "{}" if isinstance(value, Mapping) else "[]"
    body = f",\n{inner}".join(rows)
    return f"{opened}\n{inner}{body}\n{indent}{closed}"
