"""The parts of `map.html`: how kinds are drawn, the rows, the plan, the layers, and the files they are set into."""
