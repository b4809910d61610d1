"""The camera reading: what the lens will draw of this set, without tracing anything.

Geometry and diffraction as in `throughlight.photometry.field`; the circle of confusion is the sensor's diagonal over
1500, the Airy disc is told for 0.55 µm. Distances are taken along the camera's axis from the lens, whose place in the
set is that of its pupil. With movements, magnification and depth of field are those where that axis meets the plane of
focus, and the subject's sharpness is told point by point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from throughlight.photometry import field, movements
from throughlight.photometry.exposure import close_up_loss, working_f_number
from throughlight.readings.figures import length_words, significant, time_words
from throughlight.readings.lens import Corner, PlaneOfFocus, darkest_corner, plane_of_focus
from throughlight.readings.standing import Standing, standing_in_frame, view_of
from throughlight.readings.subject_view import SubjectView, subject_view
from throughlight.setup import Camera, Setup

_SAME_TIME = 1.0 + 1e-9  # a shutter written 1/200 s meets a limit written 1/200 s


@dataclass(frozen=True)
class CameraReading:
    """What the camera does in this set; lengths in metres, angles in radians, times in seconds.

    `frame_width` and `frame_height` are what the sensor takes in at the plane of focus; `working_distance` goes from
    the lens to the subject's nearest point, or to the plane of focus without a subject; `sync_ok` is false when the
    shutter is faster than the flash can follow. `plane` is the plane of focus of a lens that leans against the sensor,
    and `softest` then the widest blur of any point of the subject, m.
    """

    magnification: float
    frame_width: float
    frame_height: float
    angle_width: float
    angle_height: float
    angle_diagonal: float
    effective_f_number: float
    close_up_loss: float
    focus: float
    working_distance: float
    depth_of_field: field.DepthOfField
    circle_of_confusion: float
    airy_diameter: float
    shutter: float
    sync_limit: float
    sync_ok: bool
    subject: SubjectView | None
    in_frame: tuple[Standing, ...]
    plane: PlaneOfFocus | None
    softest: float | None
    corner: Corner

    @property
    def complaints(self) -> tuple[str, ...]:
        """Return what has to be changed before a picture, one sentence each."""
        return (self.corner.complaint,) if self.corner.complaint else ()

    @property
    def missing_in_front(self) -> float:
        """Return how much of the subject, m, stands before the sharp range."""
        return 0.0 if self.subject is None else max(0.0, self.depth_of_field.near - self.subject.nearest)

    @property
    def missing_behind(self) -> float:
        """Return how much of the subject, m, stands behind the sharp range."""
        return 0.0 if self.subject is None else max(0.0, self.subject.farthest - self.depth_of_field.far)

    @property
    def sharp_throughout(self) -> bool:
        """Return whether the depth of field holds the whole subject."""
        if self.softest is not None:
            return self.softest <= self.circle_of_confusion
        return self.missing_in_front == 0.0 and self.missing_behind == 0.0

    def as_json(self) -> dict[str, Any]:
        """Return the reading with units in its keys; an endless distance is null."""
        depth, subject = self.depth_of_field, self.subject
        return {
            "magnification": self.magnification,
            "frame_width_mm": _mm(self.frame_width),
            "frame_height_mm": _mm(self.frame_height),
            "picture_angle_width_deg": math.degrees(self.angle_width),
            "picture_angle_height_deg": math.degrees(self.angle_height),
            "picture_angle_diagonal_deg": math.degrees(self.angle_diagonal),
            "effective_f_number": self.effective_f_number,
            "close_up_loss_stops": self.close_up_loss,
            "focus_distance_mm": _mm(self.focus),
            "working_distance_mm": _mm(self.working_distance),
            "depth_of_field_near_mm": _mm(depth.near),
            "depth_of_field_far_mm": _mm(depth.far),
            "depth_of_field_mm": _mm(depth.total),
            "circle_of_confusion_um": 1e6 * self.circle_of_confusion,
            "airy_disc_diameter_um": 1e6 * self.airy_diameter,
            "shutter_s": self.shutter,
            "sync_limit_s": self.sync_limit,
            "sync_ok": self.sync_ok,
            "plane_of_focus": None if self.plane is None else self.plane.as_json(),
            "darkest_corner": self.corner.as_json(),
            "subject": None
            if subject is None
            else {
                "nearest_mm": _mm(subject.nearest),
                "farthest_mm": _mm(subject.farthest),
                "depth_mm": _mm(subject.depth),
                "fills_width_fraction": subject.fills_width,
                "fills_height_fraction": subject.fills_height,
                "whole_in_frame": subject.inside,
                "outside_the_frame": subject.outside,
                "sharp_throughout": self.sharp_throughout,
                "widest_blur_um": _micrometres(self.softest),
            },
            "in_frame": [
                {
                    "name": thing.name,
                    "kind": thing.kind,
                    "whole": thing.whole,
                    "frame_fraction": thing.share,
                    "hidden": thing.hidden,
                }
                for thing in self.in_frame
            ],
        }


def camera_reading(setup: Setup) -> CameraReading:
    """Return what the camera of a set will draw.

    Raises
    ------
    ValueError
        If the focus lies within the focal length (a checked set has none such).
    OSError
        If the subject's mesh file cannot be opened.
    """
    camera = setup.camera
    film = movements.film(camera.focal, camera.focus, camera.movements)
    m = _magnification(camera, film)
    effective = working_f_number(camera.f_number, m, camera.pupil_magnification)
    circle = field.circle_of_confusion(camera.sensor_width, camera.sensor_height)
    read = [one for one in setup.subjects if one.counts]
    subject = subject_view(read, camera.at, view_of(camera)) if read else None
    plane = plane_of_focus(camera)
    width, height, diagonal = _angles_of(film, camera)
    return CameraReading(
        magnification=m,
        frame_width=camera.sensor_width / m,
        frame_height=camera.sensor_height / m,
        angle_width=width,
        angle_height=height,
        angle_diagonal=diagonal,
        effective_f_number=effective,
        close_up_loss=close_up_loss(m, camera.pupil_magnification),
        focus=camera.focus,
        working_distance=camera.focus if subject is None else subject.nearest,
        depth_of_field=_depth_of_field(camera, film, circle),
        circle_of_confusion=circle,
        airy_diameter=field.airy_diameter(effective),
        shutter=camera.shutter,
        sync_limit=camera.sync,
        sync_ok=camera.shutter * _SAME_TIME >= camera.sync or not any(setup.flashes),
        subject=subject,
        in_frame=standing_in_frame(setup),
        plane=plane,
        softest=None if plane is None or subject is None else _softest(camera, film, subject),
        corner=darkest_corner(camera),
    )


def _magnification(camera: Camera, film: movements.Film) -> float:
    """Return the image's scale where the camera's axis meets the plane of focus, for what is parallel to the sensor."""
    return camera.focal / (camera.focus * float(film.lens_axes[2, 2]) - camera.focal)


def _angles_of(film: movements.Film, camera: Camera) -> tuple[float, float, float]:
    """Return the angles between the middles of the frame's sides, across and up, and between its corners, rad."""
    half_lines = ((1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, -1.0))
    angles = []
    for end in half_lines:
        across, up = np.array([end, np.negative(end)]).T
        one, other = movements.places(film, camera.sensor_width / 2.0, camera.sensor_height / 2.0, across, up)
        angles.append(math.atan2(float(np.linalg.norm(np.cross(one, other))), float(one @ other)))
    return angles[0], angles[1], max(angles[2:])


def _depth_of_field(camera: Camera, film: movements.Film, circle: float) -> field.DepthOfField:
    """Return the sharp range along the camera's axis, which a turned lens looks along aslant."""
    slant = float(film.lens_axes[2, 2])
    square = field.depth_of_field(
        camera.focal, camera.f_number, circle, camera.focus * slant, camera.pupil_magnification
    )
    return field.DepthOfField(square.near / slant, square.far / slant, square.total / slant)


def _softest(camera: Camera, film: movements.Film, subject: SubjectView) -> float:
    """Return the widest blur of any of the subject's points, m; endless for a point that has no image."""
    if not len(subject.outline) or bool((subject.outline @ film.axis <= camera.focal).any()):
        return math.inf
    return float(movements.blur(film, camera.focal / camera.f_number, subject.outline).max())


def _mm(length: float) -> float | None:
    return round(1e3 * length, 6) if math.isfinite(length) else None


def _micrometres(length: float | None) -> float | None:
    return 1e6 * length if length is not None and math.isfinite(length) else None


def camera_lines(reading: CameraReading) -> list[tuple[str, str]]:
    """Return the reading as pairs of a label and a photographer's words."""
    m, effective = significant(reading.magnification, 2), significant(reading.effective_f_number, 3)
    frame = _size(reading.frame_width, reading.frame_height)
    lines = [
        ("magnification", f"{m}, the frame is {frame} at the focus"),
        ("working distance", f"{length_words(reading.working_distance)}, focus at {length_words(reading.focus)}"),
        ("picture angle", _angles(reading)),
        ("effective f-number", f"f/{effective}, close-up loss {reading.close_up_loss:.2f} stop"),
        ("depth of field", _depth_words(reading)),
        ("darkest corner", reading.corner.words),
        ("diffraction", _diffraction_words(reading)),
        ("sync", _sync_words(reading)),
    ]
    if reading.plane is not None:
        lines.insert(4, ("plane of focus", reading.plane.words))
    if reading.subject is not None:
        lines.append(("framing", _framing_words(reading.subject)))
    lines.append(("in the frame", _standing_words(reading.in_frame)))
    return lines


def _size(width: float, height: float) -> str:
    if max(width, height) < 0.1:
        return f"{1e3 * width:.0f} × {1e3 * height:.0f} mm"
    return f"{significant(1e2 * width, 3)} × {significant(1e2 * height, 3)} cm"


def _angles(reading: CameraReading) -> str:
    across, up, corner = (math.degrees(a) for a in (reading.angle_width, reading.angle_height, reading.angle_diagonal))
    return f"{across:.1f}° across, {up:.1f}° up, {corner:.1f}° corner to corner"


def _depth_words(reading: CameraReading) -> str:
    total = length_words(reading.depth_of_field.total)
    limit = f"(circle of confusion {1e6 * reading.circle_of_confusion:.0f} µm, the sensor's diagonal over 1500)"
    if reading.subject is None:
        return f"{total} {limit}"
    along = " along the axis" if reading.softest is not None else ""
    said = f"{total}{along} for a subject {length_words(reading.subject.depth)} deep"
    if reading.sharp_throughout:
        return f"{said}: enough {limit}"
    if reading.softest is not None:
        soft = "without end" if not math.isfinite(reading.softest) else f"{1e6 * reading.softest:.0f} µm wide"
        return f"{total} along the axis; the subject's softest point is drawn {soft} {limit}"
    gaps = ((reading.missing_in_front, "in front"), (reading.missing_behind, "behind"))
    short = " and ".join(f"{length_words(gap)} {where}" for gap, where in gaps if gap > 0.0)
    return f"{said}: short by {short} {limit}"


def _diffraction_words(reading: CameraReading) -> str:
    airy, circle = 1e6 * reading.airy_diameter, 1e6 * reading.circle_of_confusion
    said = f"Airy disc {airy:.0f} µm (0.55 µm light)"
    if airy <= circle:
        return f"{said}, within the circle of confusion"
    return f"{said}, wider than the circle of confusion: even the plane of focus is soft"


def _sync_words(reading: CameraReading) -> str:
    shutter, limit = time_words(reading.shutter), time_words(reading.sync_limit)
    if reading.sync_ok:
        return f"{shutter}, within the limit of {limit}"
    return f"{shutter} is faster than the sync limit of {limit}: part of the frame stays dark"


def _framing_words(subject: SubjectView) -> str:
    if subject.outside:
        return "the subject is outside the frame"
    width, height = 100.0 * subject.fills_width, 100.0 * subject.fills_height
    said = f"the subject fills {width:.0f} % of the width and {height:.0f} % of the height"
    return said if subject.inside else f"{said}, and is cut by the frame"


def _standing_words(things: tuple[Standing, ...]) -> str:
    said = []
    for thing in things:
        where = "" if thing.whole else "in part, "
        seen = "hidden" if thing.hidden else f"{significant(100.0 * thing.share, 2)} % of the frame"
        said.append(f"{thing.name} ({thing.kind}, {where}{seen})")
    return "; ".join(said) if said else "no head, card, flag or support"
