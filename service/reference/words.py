"""Words and kinds of number that several data files share."""

from dataclasses import dataclass
from typing import Annotated, Literal

from service.reference.shape import Bounds

Share = Annotated[float, Bounds(0, 1)]
Positive = Annotated[float, Bounds(above=0)]
NotNegative = Annotated[float, Bounds(0)]
Count = Annotated[int, Bounds(0)]
CountingNumber = Annotated[int, Bounds(1)]

Grade = Literal["published", "practice", "memory", "assumption"]
Stage = Literal["egg", "hatchling", "juvenile", "adult"]
LookClass = Literal["broad_leaf", "stem_rosette", "moss_fine"]
Substance = Literal[
    "chlorine",
    "alum",
    "acid",
    "ammonium",
    "permanganate",
    "peroxide",
    "copper",
    "thiosulfate",
    "sulfite",
    "bisulfite",
    "ascorbate",
    "ascorbic_acid",
    "salt",
    "carbonated_water",
    "bicarbonate",
]
Method = Literal[
    "bleach_dip",
    "alum_soak",
    "copper_course",
    "permanganate_dip",
    "peroxide_dip",
    "salt_dip",
    "carbonated_water",
    "quarantine_only",
]


@dataclass(frozen=True, kw_only=True)
class Sourced:
    """Figures with where they come from.

    `grade` is that of the weakest figure of the group: `published` (read in a paper, standard or official
    list), `practice` (usual in the trade, no source), `memory` (a published figure that was not read again)
    or `assumption` (ours, to be replaced by the nursery's own records).
    """

    source: str
    grade: Grade
