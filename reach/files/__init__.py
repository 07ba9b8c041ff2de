"""The only modules that open files."""
