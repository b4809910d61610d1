"""Places in the frame, said as a photographer says them."""

from __future__ import annotations


def place_in_frame(across: float, down: float) -> str:
    """Return words for a place in the picture, such as "right edge, upper third".

    Parameters
    ----------
    across, down
        Fractions of the frame from the left and from the top.
    """
    edge = 1.0 / 12.0
    third = ("upper third", "middle", "lower third")[min(2, int(3.0 * down))]
    side = ("left third", "middle", "right third")[min(2, int(3.0 * across))]
    near = {"left": across < edge, "right": across > 1.0 - edge, "top": down < edge, "bottom": down > 1.0 - edge}
    if (near["left"] or near["right"]) and (near["top"] or near["bottom"]):
        return f"{'top' if near['top'] else 'bottom'} {'left' if near['left'] else 'right'} corner"
    if near["left"] or near["right"]:
        return f"{'left' if near['left'] else 'right'} edge, {third}"
    if near["top"] or near["bottom"]:
        return f"{'top' if near['top'] else 'bottom'} edge, {side}"
    if third == side == "middle":
        return "centre"
    return f"{side}, {third}" if third != side else third
