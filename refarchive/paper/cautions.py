"""Cautions that stand on every dossier, in general words.

They are reminders of common practice, not instructions and not an assessment: what may be done, and how, is decided by
local codes and by licensed, competent people. Topics are those a scene plan can say something about.
"""

from __future__ import annotations

DEFERRAL = (
    "These are general cautions, not an assessment of this place or this day, and they approve nothing. Local codes "
    "and licensed, competent people decide what may be done and how. Anyone may stop the work."
)

CAUTIONS: tuple[tuple[str, str, str], ...] = (
    (
        "water",
        "Water",
        "Wet costume is heavy, hides the body's shape and can hold a person under. Depth, bed and current are looked "
        "at on the day by someone who knows the place. Nobody enters water alone; someone competent in rescue watches "
        "and does nothing else.",
    ),
    (
        "cold",
        "Cold",
        "Wind on wet cloth cools within minutes, and judgement goes before shivering stops. Plan the time in water, "
        "dry clothes, warmth and a vehicle before the first take.",
    ),
    (
        "tide",
        "Tide and current",
        "Tables are predictions; wind, pressure and rain change the time and the height. Water can come in behind "
        "people. Agree a turning-back time and a way out, and keep to both.",
    ),
    (
        "power",
        "Electricity and flash near water",
        "A battery does not take the danger away: a flash unit holds a lethal voltage even after it has been in "
        "water. Keep units and packs where they cannot fall or be carried into water, ballasted and attended. People "
        "in the water handle no equipment. Treat anything retrieved from water as live.",
    ),
    (
        "smoke",
        "Smoke, mist and flame",
        "Read the data sheet of the fluid. Smoke hides people, edges and water, drifts onto roads and alarms "
        "neighbours: give notice, and watch the wind. Open flame near costume, hair or fuel needs someone licensed "
        "for it.",
    ),
    (
        "height",
        "Height, stands and lifting",
        "Stands, booms and sails of cloth fall in wind. Weight and tie them, keep people from under them, and leave "
        "work at height to people trained and equipped for it.",
    ),
    (
        "animals",
        "Animals",
        "Animals come with their handler, who decides what they do and when they rest. Smoke, flash and water startle "
        "them.",
    ),
    (
        "traffic",
        "Roads, boats and passers-by",
        "Other people use the place. Ask its owner and authorities, keep ways clear, and give somebody the watch over "
        "them.",
    ),
    (
        "who may stop the work",
        "Who may stop the work",
        "Say before the first take who that is, and by what word or signal.",
    ),
)
ALWAYS = ("water", "cold", "tide", "power", "smoke", "height", "who may stop the work")
