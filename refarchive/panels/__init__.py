"""Panels for the notebook: the job done by looking, typing a few words and clicking."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from refarchive.panels.check import Check
    from refarchive.panels.find import Find
    from refarchive.panels.gather import Gather
    from refarchive.panels.onsite import OnSite
    from refarchive.panels.publish import Publish
    from refarchive.panels.scene import Scene
    from refarchive.panels.wall import Wall

__all__ = ["Check", "Find", "Gather", "OnSite", "Publish", "Scene", "Wall"]


def __getattr__(name: str) -> Any:
    """Panels are imported when they are asked for, because widgets are heavy."""
    if name in __all__:
        from importlib import import_module

        return getattr(import_module(f"refarchive.panels.{name.lower()}"), name)
    raise AttributeError(f"There is no panel {name!r}.")
