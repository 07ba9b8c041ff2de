"""Compiled routines that pull a line tight, in a folder of their own: compiled anew if changed."""
