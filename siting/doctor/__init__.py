"""The doctor: doubtful input is caught before any distance is printed; one module an organ, all of them pure."""
