"""Picture: the stand-in display, which locks or refuses and shows the plan with its analogue truth.

`judge_picture` runs at every change and loads nothing heavy. The chain itself is in `show`, its steps in `frame`,
`response` and `front`; those modules work on arrays and are imported by name.
"""

from __future__ import annotations

from scanloom.stages.picture.outlook import DisplayOutlook, PictureOutlook
from scanloom.stages.picture.verdicts import judge_picture

__all__ = ["DisplayOutlook", "PictureOutlook", "judge_picture"]
