"""What follows when a signing key is withdrawn: living certificates signed with it are issued anew."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.clearance.actions import supersede
from service.clearance.issuing import reissue
from service.clearance.models import Certificate
from service.clearance.signing import kid_of
from service.journal.acts import Act
from service.lots.models import Lot


def sign_anew(session: Session, act: Act, kid: str) -> int:
    """Supersede every living certificate signed with this key by one signed with today's; gives how many.

    Quantities, facts and last days stay. Once done it finds nothing more to do.
    """
    found = dict(_signed_with(session, act, kid))
    locked = select(Lot).where(Lot.id.in_(set(found.values()))).order_by(Lot.id).with_for_update()
    lots = {lot.id: lot for lot in session.scalars(locked.execution_options(populate_existing=True))}
    done = 0
    wanted = select(Certificate).where(Certificate.id.in_(found), Certificate.status == "valid")
    for former in session.scalars(wanted.order_by(Certificate.id).with_for_update()).all():
        lot = lots[former.lot_id]
        supersede(session, act, lot, former, "The key that it was signed with was withdrawn.")
        present = reissue(session, act, lot, former, former.quantity)
        former.superseded_by = present.serial
        if lot.certificate_serial == former.serial:
            lot.certificate_serial = present.serial
        done += 1
    return done


def _signed_with(session: Session, act: Act, kid: str) -> list[tuple[str, str]]:
    wanted = select(Certificate.id, Certificate.lot_id, Certificate.jws).where(
        Certificate.status == "valid", Certificate.expires_at > act.at
    )
    return [(id_, lot_id) for id_, lot_id, token in session.execute(wanted) if kid_of(token) == kid]
