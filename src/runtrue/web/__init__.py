"""The pages: they show what the workflow gives and work nothing out.

A page is made in four steps:

1. its context: a frozen dataclass and the function that fills it, in ``workflow/pages/NAME.py``; figures and words as
   they are shown, pictures as SVG drawn by ``paper`` (``pages.page.picture``), a ``Head`` with the first sentence;
2. its template: ``templates/NAME.html``, which extends ``layout.html`` and has the context as ``page``;
3. its route: a function with ``@page(router, "/NAME/{key}", "NAME.html")`` in ``web/NAME.py`` that takes what the path
   names and the ``Desk`` (``At``) and returns the context; the same goes out as JSON under ``/NAME/{key}.json``, or for
   ``Accept: application/json``. The router is named in ``app.ROUTERS``, the page in ``page.PLACES`` if the top line is
   to lead there;
4. its test: ``tests/pages/`` asks for it with a client on the book of ``tests.booked``, and the browser test looks at
   it in light and dark.

A form is an ordinary one that works without scripts: ``method=post`` and ``{{ token() }}`` within it; its route has
``dependencies=[own_form]``. Scripts are ES modules of our own in ``static/``; a page asks for its own in the block
``scripts``. No style and no script stands within a page: the policy of ``guard`` forbids them.
"""
