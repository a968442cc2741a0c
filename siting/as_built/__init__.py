"""From what was measured on the ground to where a thing stands, how surely, and how far from where it was planned."""
