"""The demo: a year of believable work in a studio of our own invention, made through posting.

`setting` furnishes the studio, `designs` says what it casts, `plans` how it plans a casting day, `year` works
through the year.
"""
