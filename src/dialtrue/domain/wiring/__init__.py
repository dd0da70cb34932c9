"""The wiring of an endpoint: which lead goes through which conductor to which terminal, or why it is not drawn.

Start at :func:`dialtrue.domain.wiring.lay.wiring_of`; words stand in ``steps`` and ``said``, the picture in
``files.wiring_picture``.
"""
