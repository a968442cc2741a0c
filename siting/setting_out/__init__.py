"""From a chosen place to pegs in the ground; `card.set_out` gathers the rest."""
