"""The compound station: what came in, what to weigh, whether it was weighed, whether a batch is like the others.

Values in, measurements out. Masses are kilograms, shares fractions, temperatures kelvin.
"""
