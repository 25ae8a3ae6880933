"""Light on a planned picture: exposure, the rig, its power, its stands and the walk in with it.

Pure functions and frozen records on numbers. Nothing here decides: every figure says by what rule it was found, and
what can hurt somebody defers to local codes and to licensed, competent people.
"""
