"""Exceptions that a caller may want to catch."""


class VrpError(Exception):
    """Base of everything that vrp raises on purpose."""


class InputError(VrpError, ValueError):
    """What was given cannot be used as it is; the user can mend it."""


class GuidelineError(InputError):
    """A guideline's text, or what is asked of a guideline, does not hold."""
