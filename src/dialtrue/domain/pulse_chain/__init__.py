"""The pulse chain: output, cable and input, judged at every corner.

Start at :func:`dialtrue.domain.pulse_chain.verdict.judge`; the circuit itself is in ``levels`` and ``burst``.
"""
