"""Whether what a plan says of place and light can be worked with at all, told before it is kept."""

from __future__ import annotations

from refarchive.records.model import Scene


def refuse_unworkable(scene: Scene) -> None:
    """Refuse a plan whose rig cannot be worked out: a light inside its subject, an arm of nought.

    Raises PlanRefused with the field.
    """
    if scene.rig is not None:
        from refarchive.jobs import lit

        lit.of_scene(scene)
