"""How fast the studio answers, measured against bare tools in the same run: `make bench`."""
