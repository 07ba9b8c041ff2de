"""Hand over hand along rails: the graph of grips, routes over it, and proof where there is none."""
