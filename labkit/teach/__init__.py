"""Teach a class: lessons, questions checked by computation, hand-outs, hand-ins, the class table.

This door is lazy: nothing is loaded before it is used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from labkit.teach.blanks import blanks_of, master
    from labkit.teach.classroom import Classroom
    from labkit.teach.desk import Desk
    from labkit.teach.lessons import Lesson, lesson, lessons, teachers_page
    from labkit.teach.pages import bench_card
    from labkit.teach.projector import Projector
    from labkit.teach.questions import NameQuestion, NumberQuestion, Slip, Verdict
    from labkit.teach.shopping import shopping_list
    from labkit.teach.split import Split, split_base

_PLACE = {
    "Classroom": "classroom",
    "Desk": "desk",
    "Lesson": "lessons",
    "NameQuestion": "questions",
    "NumberQuestion": "questions",
    "Projector": "projector",
    "Slip": "questions",
    "Split": "split",
    "Verdict": "questions",
    "bench_card": "pages",
    "blanks_of": "blanks",
    "lesson": "lessons",
    "lessons": "lessons",
    "master": "blanks",
    "shopping_list": "shopping",
    "split_base": "split",
    "teachers_page": "lessons",
}

__all__ = [
    "Classroom",
    "Desk",
    "Lesson",
    "NameQuestion",
    "NumberQuestion",
    "Projector",
    "Slip",
    "Split",
    "Verdict",
    "bench_card",
    "blanks_of",
    "lesson",
    "lessons",
    "master",
    "shopping_list",
    "split_base",
    "teachers_page",
]


def __getattr__(name: str) -> Any:
    if name not in _PLACE:
        raise AttributeError(f"labkit.teach has no '{name}'; it has {', '.join(__all__)}")
    found = getattr(importlib.import_module(f"labkit.teach.{_PLACE[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted(__all__)
