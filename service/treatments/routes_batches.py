"""The address of where a batch was used."""

from flask import Response

from service.accounts.rules import READERS
from service.core.http import allow, answer, router, session
from service.stores.queries import batch_by_id
from service.treatments.batch_use_schemas import BatchUsesOut
from service.treatments.batch_uses import batch_uses

blueprint = router("batch-uses", "The treatments and lots that a batch of material was used in.")


@blueprint.route("/stock-batches/<id:batch_id>/uses")
@allow(READERS)
@blueprint.response(200, BatchUsesOut)
def show_batch_uses(batch_id: str) -> Response:
    """Show the treatments that a batch was used in, with their lots as they are today."""
    return answer(batch_uses(session(), batch_by_id(session(), batch_id)))
