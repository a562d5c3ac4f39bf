"""Letterbed, the program: from artwork to cut files, with a window and without."""
