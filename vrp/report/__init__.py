"""Views of a prescription for people."""
