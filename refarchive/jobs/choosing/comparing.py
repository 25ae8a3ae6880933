"""The frames of a shoot against each other: how they lie, how sharp they are, which are alike, what differs.

What was measured is kept with each frame, together with what it was measured against: where a group gains a frame, or
another frame comes first, what rests on that is measured anew, and nothing else; so is what could not be read, once it
can be. A run that was stopped goes on.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotMeasure, SourceRefused
from refarchive.jobs.choosing.kept_frames import frame_file, frame_of, frame_picture
from refarchive.jobs.choosing.printing import sizes_mm
from refarchive.jobs.kit import Kit
from refarchive.records.model import Frame, Scene
from refarchive.sources.shot import Shot, read_shot

if TYPE_CHECKING:
    from refarchive.looks.lockoff import Lay
    from refarchive.looks.runs import Runs
    from refarchive.looks.sharpness import Softness

VERSION = "1"  # of what is measured here; kept looks of another version are made anew
SIDE = 1500  # pixels, long side, at which frames are laid over each other
MAP_SIDE = 900  # of the map of differences
BLOWN_TOLD = 0.0005  # of the picture, from which on it is told (our choice)
SOFT_TOLD = 0.1  # of the parts compared, from which on softness is told (our choice)
PLAIN_SHIFT_PX = 0.5  # of the original, below which the camera is said to have stood still (our choice)

UNREAD = "Cannot be laid on the first frame, whose picture cannot be read."


def in_time(frames: Sequence[Frame]) -> list[Frame]:
    """Frames by the camera's clock; those without a time after the others, as they came."""
    return sorted(frames, key=lambda one: (not one.taken, one.taken))


def measure(kit: Kit, scene: Scene) -> None:
    """Measure the frames of a scene, those that were not; see the façade."""
    frames = in_time(kit.store.frames(scene.slug))
    if not frames:
        return
    first = frames[0]
    known = kit.store.after.looks(scene.slug, VERSION)
    open_ = {one.id for one in frames if _is_open(known.get(one.id, {}), first)}
    ground = _pixels(kit, first) if open_ else None
    total = 2 * len(frames)
    for number, frame in enumerate(frames, start=1):
        was = {key: told for key, told in known.get(frame.id, {}).items() if key != "soft"}
        if frame.id in open_ and (made := _look(kit, frame, first, ground)) != {**was, "group": ""}:
            known[frame.id] = made
            kit.store.after.put_looks({frame.id: made}, VERSION)
        if kit.progress is not None:
            kit.progress(number, total, frame.source_name)
    done = len(frames)
    for own in _runs(frames, known).runs:
        together = [frames[place] for place in own.frames]
        _sharpen(kit, together, known)
        done += len(together)
        if kit.progress is not None:
            kit.progress(min(done, total), total, together[0].source_name)


def _is_open(look: Mapping[str, Any], first: Frame) -> bool:
    """Whether a frame is to be measured: never was, lies on another frame, or it or the first could not be read."""
    return look.get("base") != first.id or "problem" in look or "unread" in look


def _pixels(kit: Kit, frame: Frame) -> Any:
    import numpy as np

    try:
        return np.asarray(frame_picture(kit, frame, SIDE))
    except SourceRefused:
        return None


def _look(kit: Kit, frame: Frame, first: Frame, ground: Any) -> dict[str, Any]:
    """What one frame is like, and how it lies on the first."""
    from refarchive.looks import lockoff
    from refarchive.looks.alike import frequency_hash
    from refarchive.looks.sharpness import clipped_places
    from refarchive.looks.tone import tone_summary

    told: dict[str, Any] = {"base": first.id, "group": ""}
    try:
        told["facts"] = _facts(read_shot(frame_file(kit, frame)))
    except SourceRefused as error:
        return {**told, "problem": error.problem}
    pixels = _pixels(kit, frame)
    if pixels is None:
        return {**told, "problem": "Its picture cannot be read."}
    told["hash"] = f"{frequency_hash(pixels):016x}"
    told["blown"] = tone_summary(pixels).blown
    told["clipped"] = sum(one.kind == "blown" for one in clipped_places(pixels))
    if frame.id != first.id and ground is None:
        told["lay"] = {"told": False, "words": UNREAD, "sentence": UNREAD}
        told["unread"] = True
    elif frame.id != first.id:
        try:
            lies = lockoff.lay(ground, pixels, original_width=first.width)
        except CannotMeasure as error:
            told["lay"] = {"told": False, "words": "Cannot be laid on the first frame.", "sentence": error.problem}
        else:
            told["lay"] = _lay(lies)
    return told


def _facts(shot: Shot) -> str:
    """Exposure as a photographer reads it: 1/125 s, f/8, ISO 100, 35 mm."""
    parts = []
    if shot.exposure_s:
        whole = 1.0 / shot.exposure_s
        parts.append(f"1/{whole:.0f} s" if shot.exposure_s < 0.4 else f"{shot.exposure_s:g} s")
    parts += [f"f/{shot.f_number:g}"] if shot.f_number else []
    parts += [f"ISO {shot.iso:g}"] if shot.iso else []
    parts += [f"{shot.focal_mm:g} mm"] if shot.focal_mm else []
    return ", ".join(parts)


def _lay(lies: Lay) -> dict[str, Any]:
    """How a frame lies on the first, in words and figures."""
    if not lies.told:
        return {"told": False, "words": "Cannot be laid on the first frame.", "sentence": lies.sentence}
    shift = (lies.right_px**2 + lies.down_px**2) ** 0.5
    if shift < max(PLAIN_SHIFT_PX, 2.0 * lies.error_px):
        words = f"The camera stood as for the first frame (within {max(shift, lies.error_px):.1f} pixels)."
    else:
        across = f"{abs(lies.right_px):.1f} pixels {'right' if lies.right_px > 0 else 'left'}"
        along = f"{abs(lies.down_px):.1f} {'down' if lies.down_px > 0 else 'up'}"
        words = f"Lies {across} and {along} of the first frame, ± {max(0.1, lies.error_px):.1f}."
    return {
        "told": True,
        "words": words,
        "right_px": lies.right_px,
        "down_px": lies.down_px,
        "turn_deg": lies.turn_deg,
        "error_px": lies.error_px,
    }


def _runs(frames: Sequence[Frame], known: Mapping[str, Any]) -> Runs:
    """Groups of frames in the order given; a frame that was not measured counts by its time alone."""
    from refarchive.looks.runs import runs

    hashes: list[int] = []
    for frame in frames:
        kept = known.get(frame.id, {}).get("hash")
        hashes.append(int(kept, 16) if kept else (hashes[-1] if hashes else 0))
    return runs([_seconds(frame.taken) for frame in frames], hashes)


def _seconds(taken: str) -> float | None:
    """The camera's clock in seconds; a clock without a zone is taken as it stands."""
    try:
        moment = datetime.fromisoformat(taken)
    except ValueError:
        return None
    return (moment.replace(tzinfo=None) - datetime(1970, 1, 1)).total_seconds()


def _sharpen(kit: Kit, together: Sequence[Frame], known: dict[str, Any]) -> None:
    """Measure how soft the frames of a group are against its sharpest, where the group is another than was measured."""
    key = hashlib.sha256(" ".join(one.id for one in together).encode()).hexdigest()[:16]
    if all(known.get(one.id, {}).get("group") == key for one in together):
        return
    whole = [one for one in together if "problem" not in known[one.id]]
    fresh: dict[str, Any] = {}
    for frame, soft in zip(whole, _softness(kit, whole, known), strict=True):
        fresh[frame.id] = {**known[frame.id], "group": key, "soft": soft}
    fresh |= {one.id: {**known[one.id], "group": key} for one in together if one not in whole}
    kit.store.after.put_looks(fresh, VERSION)
    known.update(fresh)


def _softness(kit: Kit, frames: Sequence[Frame], known: Mapping[str, Any]) -> list[dict[str, Any]]:
    """How soft each frame is against the sharpest of its group, in words and as places; frames of one size together."""
    import numpy as np

    from refarchive.looks import sharpness

    told: list[dict[str, Any]] = [{"words": "", "places": []} for _ in frames]
    for size in dict.fromkeys((one.width, one.height) for one in frames):
        own = [place for place, one in enumerate(frames) if (one.width, one.height) == size]
        details, measured = [], []
        for place in own:
            lay = known[frames[place].id].get("lay", {})
            shift = (lay["right_px"], lay["down_px"]) if lay.get("told") else (0.0, 0.0)
            try:
                details.append(sharpness.detail(np.asarray(frame_picture(kit, frames[place], None)), *shift))
            except (CannotMeasure, SourceRefused):
                continue  # too small, or not to be read: nothing is said of it
            measured.append(place)
        if len(details) < 2:
            continue
        for place, soft in zip(measured, sharpness.compare(details), strict=True):
            told[place] = _soft(soft)
    return told


def _soft(soft: Softness) -> dict[str, Any]:
    """Softness in words, where there is enough of it to be looked at; and its figures."""
    import numpy as np

    sigmas = soft.sigma_px[np.isfinite(soft.sigma_px) & (soft.sigma_px > 0)]
    sigma = float(np.median(sigmas)) if sigmas.size else 0.0
    words = ""
    if soft.whole is not None:
        words = (
            f"Softer all over than the sharpest of its group: as if blurred by sigma {soft.whole.sigma_px:.1f} pixels."
        )
    elif soft.softer >= max(1.0, SOFT_TOLD * soft.compared):
        words = f"Softer than the sharpest of its group in {soft.softer} of {soft.compared} parts: as if blurred by "
        words += f"sigma {sigma:.1f} pixels."
    return {
        "words": words,
        "sentence": soft.sentence,
        "softer": soft.softer,
        "compared": soft.compared,
        "sigma_px": sigma,
        "places": [list(one.box) for one in soft.places],
    }


# --- what is told ---------------------------------------------------------------------------------------------------


def document(kit: Kit, scene: Scene) -> dict[str, Any]:
    """The frames of a scene in their groups, as JSON; see the façade. Nothing is measured here."""
    frames = in_time(kit.store.frames(scene.slug))
    known = kit.store.after.looks(scene.slug, VERSION)
    found = _runs(frames, known)
    # What was laid on another frame than the one that comes first now tells nothing of how it lies on this one.
    known = {name: look for name, look in known.items() if look["base"] == frames[0].id}
    rows = [
        {
            "id": frame.id,
            "scene": scene.slug,
            "name": frame.source_name,
            "place": place,
            "taken": frame.taken,
            "taken_words": _taken(frame.taken),
            "width": frame.width,
            "height": frame.height,
            "measured": frame.id in known,
            "look": known.get(frame.id, {}),
            "words": _words(known.get(frame.id), place == 0),
            "sizes": sizes_mm(frame),
        }
        for place, frame in enumerate(frames)
    ]
    return {
        "frames": rows,
        "groups": [{"words": run.words, "frames": [frames[n].id for n in run.frames]} for run in found.runs],
        "gap_s": found.gap_s,
    }


def _taken(taken: str) -> str:
    """The camera's clock as it is read: 11 October 2027, 14:50:01.25."""
    try:
        moment = datetime.fromisoformat(taken)
    except ValueError:
        return "no time in the file"
    day = date(moment.year, moment.month, moment.day)
    part = f"{moment.microsecond / 1e6:.2f}"[1:] if moment.microsecond else ""
    return f"{day.day} {day.strftime('%B')} {day.year}, {moment.strftime('%H:%M:%S')}{part}"


def _words(look: Mapping[str, Any] | None, first: bool) -> list[str]:
    if look is None:
        return ["Not measured yet."]
    if "problem" in look:
        return [look["problem"]]
    words = [look["facts"]] if look.get("facts") else []
    words += ["The first frame; the others are laid on it."] if first else [look["lay"]["words"]]
    if look["blown"] >= BLOWN_TOLD:
        where = f", in {look['clipped']} places" if look["clipped"] > 1 else ""
        words.append(f"{100 * look['blown']:.1f} % is blown out{where}.")
    soft = look.get("soft", {}).get("words", "")
    return [*words, *([soft] if soft else [])]


def between(kit: Kit, scene: Scene, one: str, other: str) -> dict[str, Any]:
    """What differs between two frames, as `words`, `regions`, and three pictures; see the façade."""
    import numpy as np
    from PIL import Image as Images

    from refarchive.looks import colour, lockoff

    base, frame = frame_of(kit, scene, one), frame_of(kit, scene, other)
    under, over = (np.asarray(frame_picture(kit, each, SIDE)) for each in (base, frame))
    lies = lockoff.lay(under, over, original_width=base.width)
    if not lies.told:
        plain = [Images.fromarray(under), Images.fromarray(over)]
        words = f"{lies.sentence} They are shown as they are, side by side in time."
        return {"words": words, "regions": [], "shift_px": None, "pictures": plain}
    found = lockoff.differences(under, over, lies, longest=MAP_SIDE)
    ground, moved, _ = lockoff.laid(under, over, lies)
    shown = [np.rint(255.0 * colour.encoded(light)).astype(np.uint8) for light in (ground, moved)]
    strength = np.clip(found.delta_e / max(3.0 * found.threshold, 1e-6), 0.0, 1.0)
    shown.append(np.repeat(np.rint(255.0 * strength).astype(np.uint8)[..., None], 3, axis=2))
    return {
        "words": f"{_lay(lies)['words']} {found.sentence}",
        "regions": [list(region.box) for region in found.regions],
        "shift_px": [lies.right_px, lies.down_px],
        "pictures": [Images.fromarray(picture) for picture in shown],
    }
