"""Reads a sheet as a person would: its words, its forms, its buttons."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import unescape


@dataclass(frozen=True)
class Form:
    """A form of a page: where it goes, its fields, the values of its named buttons; of a form that
    has none inside, those that stand apart."""

    action: str
    fields: dict[str, str]
    buttons: tuple[str, ...]


def words(page: str) -> str:
    """A page's text as it is read, blanks squeezed."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).replace("\xa0", " ").split())


def forms(page: str) -> list[Form]:
    """The forms of a page, in order, without the switch that stands in the head of every page."""
    return [form for form in every_form(page) if form.action != "/sun"]


def every_form(page: str) -> list[Form]:
    """All forms of a page, in order."""
    found = []
    for attrs, body in re.findall(r"<form\b([^>]*)>(.*?)</form>", page, flags=re.DOTALL):
        fields: dict[str, str] = {}
        for tag in re.findall(r"<input\b[^>]*>", body):
            name, value = _attr(tag, "name"), _attr(tag, "value")
            if "radio" in tag and "checked" not in tag:
                continue
            if "checkbox" not in tag:
                fields[name] = value
        for tag, text in re.findall(r"(<textarea\b[^>]*>)(.*?)</textarea>", body, flags=re.DOTALL):
            fields[_attr(tag, "name")] = unescape(text)
        buttons = tuple(_attr(tag, "value") for tag in re.findall(r"<button\b[^>]*>", body))
        if not buttons and _attr(attrs, "id"):
            apart = re.findall(rf'<button\b[^>]*\sform="{_attr(attrs, "id")}"[^>]*>', page)
            buttons = tuple(_attr(tag, "value") for tag in apart)
        found.append(Form(_attr(attrs, "action"), fields, buttons))
    return found


def answers(page: str) -> list[Form]:
    """The forms that answer a check, the big one first."""
    return [form for form in forms(page) if form.action.endswith("/answer")]


def reading_form(page: str) -> Form:
    """The first form that asks for volts."""
    return next(form for form in answers(page) if form.fields["check"].startswith("volts "))


def word_form(page: str) -> Form:
    """The first form that is answered with a button."""
    return next(form for form in answers(page) if "value" not in form.fields)


def _attr(tag: str, name: str) -> str:
    found = re.search(rf'(?:^|\s){name}="([^"]*)"', tag)
    return unescape(found[1]) if found else ""
