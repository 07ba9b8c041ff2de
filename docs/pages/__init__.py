"""Pages of the user's guide that are made from the program itself; `docs/write.py` writes them."""
