"""The parts of the plan sheet: paper and scale, marks, the ground, dimensions, and the panel beside it."""
