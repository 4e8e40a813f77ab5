"""Every table of every room, for migrations and their check."""

from service.accounts import models as accounts
from service.accounts import people_models as people
from service.agenda import models as agenda
from service.catalogue import models as catalogue
from service.clearance import animal_models as animals
from service.clearance import models as clearance
from service.core import house, idempotency, jobs, probes
from service.core.db import Base
from service.exchange import models as exchange
from service.inspections import models as inspections
from service.intake import models as intake
from service.journal import models as journal
from service.lots import models as lots
from service.photos import models as photos
from service.protocols import models as protocols
from service.quarantine import models as quarantine
from service.recalls import models as recalls
from service.reports import models as reports
from service.sales import item_models as sales_items
from service.sales import models as sales
from service.sales import return_models as returns
from service.stores import models as stores
from service.treatments import models as treatments
from service.treatments import stem_models as trial_stems
from service.trials import models as trials
from service.tubs import models as tubs

__all__ = ["Base"]

ROOMS = (
    accounts,
    animals,
    agenda,
    catalogue,
    clearance,
    exchange,
    house,
    idempotency,
    inspections,
    intake,
    jobs,
    journal,
    lots,
    people,
    photos,
    probes,
    protocols,
    quarantine,
    recalls,
    reports,
    returns,
    sales,
    sales_items,
    stores,
    treatments,
    trial_stems,
    trials,
    tubs,
)
