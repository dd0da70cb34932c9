"""stub"""


def lined_up_of(trace):
    return None


def drums_svg(trace, *, identity):
    return ""
