"""The rooms that open files: one module a format, read and write side by side."""
