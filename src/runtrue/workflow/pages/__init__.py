"""What the pages show: one module a page, each a frozen context and the function that fills it from the book.

A context holds words and figures as they are shown, and pictures as SVG; the page lays them out and works out nothing.
The same context is what the page gives as JSON.
"""
