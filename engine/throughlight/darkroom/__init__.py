"""From linear exposures to what a person looks at: tone, finish, stops as colour, picture files.

Everything here takes exposures `H` as float arrays (h, w, 3) in lx·s, linear, in the bands of ITU-R BT.709, and says
nothing about how they were found.
"""
