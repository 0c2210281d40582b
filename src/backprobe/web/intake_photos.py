"""Photos sent with the form that starts a job."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from starlette.datastructures import FormData, UploadFile

from backprobe.base.problems import Problem
from backprobe.book.situations import Situation
from backprobe.findings.model import AnyFinding, CodesFound, FuseFound, Photo, Reading, Works
from backprobe.shop.photos import cleaned
from backprobe.web.codes import oops_of
from backprobe.web.contexts import Choice, Oops
from backprobe.web.start_contexts import PhotoFields

PHOTOS: Final = 3
"""Photos one form takes; more are added on the sheet."""
DIGEST: Final = re.compile(r"[0-9a-f]{64}")
LONGEST: Final = 200
"""Letters of what a photo shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A photo that is kept: what it belongs to, "" for the job, and what it shows."""

    digest: str
    of: str
    words: str


async def sent(form: FormData) -> dict[str, bytes]:
    """The photos of a form, by the key of their fields."""
    files = {key: form.get(f"photo-{key}") for key in _keys()}
    return {
        key: data
        for key, file in files.items()
        if isinstance(file, UploadFile) and (data := await file.read())
    }


def kept(
    typed: Mapping[str, str], files: Mapping[str, bytes], keep: Callable[[bytes], str]
) -> tuple[dict[str, str], dict[str, tuple[Oops, ...]]]:
    """The form with its photos kept, so that a form shown again still has them; and what is wrong
    with those that are none. `keep` gives the digest of a photo."""
    filled, wrong = dict(typed), dict[str, tuple[Oops, ...]]()
    for key, data in files.items():
        jpeg = cleaned(data)
        if isinstance(jpeg, Problem):
            wrong[f"photo-{key}"] = (oops_of(jpeg),)
        else:
            filled[f"kept-{key}"] = keep(jpeg)
    return filled, wrong


def fields(
    typed: Mapping[str, str], may_be_of: Sequence[Choice], wrong: Mapping[str, tuple[Oops, ...]]
) -> tuple[PhotoFields, ...]:
    """The fields of the form, with what was typed."""
    return tuple(
        PhotoFields(
            key=key,
            kept=digest if DIGEST.fullmatch(digest := typed.get(f"kept-{key}", "")) else "",
            of=tuple(replace(c, chosen=c.value == typed.get(f"of-{key}", "")) for c in may_be_of),
            words=typed.get(f"words-{key}", ""),
            oops=next(iter(wrong.get(f"photo-{key}", ())), None),
        )
        for key in _keys()
    )


def taken(
    typed: Mapping[str, str], may_be_of: Sequence[Choice], known: Callable[[str], object]
) -> tuple[Taken, ...]:
    """The photos of a form. `known`: None for a digest nothing is kept under."""
    names = {choice.value: choice.words for choice in may_be_of}
    found: list[Taken] = []
    for key in _keys():
        digest, of = typed.get(f"kept-{key}", ""), typed.get(f"of-{key}", "")
        if DIGEST.fullmatch(digest) and known(digest) is not None:
            of = of if of in names else ""
            words = " ".join(typed.get(f"words-{key}", "").split())[:LONGEST]
            found.append(Taken(digest=digest, of=of, words=words or (of and names[of])))
    return tuple(found)


def findings_with(photos: Sequence[Taken], found: Sequence[AnyFinding]) -> tuple[Photo, ...]:
    """Photos as findings, each of the finding its field became; of the job where it became none."""
    return tuple(
        Photo(
            situation=found[-1].situation.bare() if found else Situation(),
            digest=one.digest,
            words=one.words,
            of=next((f.id for f in found if one.of and _field_of(f) == one.of), ""),
        )
        for one in photos
    )


def _field_of(finding: AnyFinding) -> str:
    """What a form calls the finding one of its fields became."""
    match finding:
        case CodesFound():
            return f"codes-{finding.unit}"
        case Works():
            return f"w-{finding.target}"
        case FuseFound():
            return f"f-{finding.fuse}"
        case Reading():
            return "battery"
        case _:
            return ""


def _keys() -> tuple[str, ...]:
    return tuple(str(number) for number in range(PHOTOS))
