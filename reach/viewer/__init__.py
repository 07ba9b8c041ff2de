"""The local page: a scene to turn and pick in, a trial to change, a procedure to play.

`desk` and its neighbours hold what is looked at and know nothing of pages; `page` shows it.
"""
