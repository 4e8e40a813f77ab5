"""Taking the shipped reference data over into the rooms that own it."""

from sqlalchemy.orm import Session

from service.catalogue.adoption import adopt_pests, adopt_plants
from service.clearance.adoption import adopt_policies
from service.journal.acts import Act
from service.protocols.adoption import adopt_protocols
from service.reference.loader import shipped
from service.stores.adoption import adopt_materials

PARTS = {
    "pests": adopt_pests,
    "plants": adopt_plants,
    "materials": adopt_materials,
    "protocols": adopt_protocols,
    "policies": adopt_policies,
}


def adopt_reference(session: Session, act: Act) -> dict[str, int]:
    """Adopt what is new in the reference data; gives how many of each part."""
    return {part: adopt(session, act, shipped()) for part, adopt in PARTS.items()}
