"""Whether who looked could know what was done: a blind trial is only as blind as its observers."""

from collections.abc import Collection, Sequence

BLIND_MEANS = (
    "Blind means that the trial's own answers named no arm to who looks. The treatments of its lots can be "
    "read elsewhere, as whoever doses a tub must, and a look refused for its moment tells that a tub was "
    "treated: nobody can tell whether an observer knew."
)


def could_know(observer: str, *, reads_arms: bool, treated_by: Collection[str]) -> str | None:
    """Why an observer could know the arms; None when nothing on record says so."""
    if observer in treated_by:
        return f"{observer} had a hand in treatments of it."
    if reads_arms:
        return f"{observer} may read the arms of blind trials."
    return None


def blind_limits(looks: Sequence[str | None]) -> list[str]:
    """What a blind trial cannot claim; `looks` says for each why its observer could know."""
    known = [why for why in looks if why is not None]
    if not known:
        return [BLIND_MEANS]
    told = " ".join(dict.fromkeys(known))
    return [f"{len(known)} of {len(looks)} looks were not blind: {told}", BLIND_MEANS]
