"""Flask, SQLAlchemy's ORM, marshmallow and the standard library's JSON: the stack of the books."""

from flask import Flask, Response, jsonify
from marshmallow import Schema, fields
from sqlalchemy.orm import Session

from benchmarks.peers.tables import engine, lots
from service.lots.shapes import QUANTITY


class PlantSchema(Schema):
    """A kind of plant."""

    id = fields.String()
    scientific_name = fields.String()
    trade_name = fields.Function(lambda plant: (plant.trade_names or [None])[0])


class SupplierSchema(Schema):
    """Who it came from."""

    id = fields.String()
    name = fields.String()


class HoldSchema(Schema):
    """What stops a lot."""

    id = fields.String()
    cause = fields.String()
    since = fields.DateTime()


QuantitySchema = Schema.from_dict({name: fields.Integer() for name in QUANTITY}, name="QuantitySchema")


class LotSchema(Schema):
    """So many plants of one kind that came together."""

    id = fields.String()
    code = fields.String()
    state = fields.String()
    state_since = fields.DateTime()
    plant = fields.Nested(PlantSchema)
    supplier = fields.Nested(SupplierSchema)
    shipment_id = fields.String()
    parent_lot_id = fields.String(allow_none=True)
    returned_from_id = fields.String(allow_none=True)
    tub_id = fields.String(allow_none=True)
    unit_of_sale = fields.String()
    stems_per_bunch = fields.Integer(allow_none=True)
    untied = fields.Boolean()
    kept_in_wool = fields.Boolean()
    strata = fields.Raw()
    bag = fields.String(allow_none=True)
    supplier_treatment_unknown = fields.Boolean()
    quantity = fields.Function(lambda lot: QuantitySchema().dump(lot))
    received_at = fields.DateTime()
    repacked_at = fields.DateTime(allow_none=True)
    sealed_since = fields.DateTime(allow_none=True)
    opened_at = fields.DateTime(allow_none=True)
    cleared_at = fields.DateTime(allow_none=True)
    regulated_lock = fields.Boolean()
    holds = fields.List(fields.Nested(HoldSchema))
    clock_started_at = fields.DateTime(allow_none=True)
    certificate_serial = fields.String(allow_none=True)
    good_until = fields.DateTime(allow_none=True)
    version = fields.Integer()
    release_day = fields.Date(allow_none=True)
    release_day_computed_at = fields.DateTime(allow_none=True)
    release_day_stale = fields.Boolean()


app = Flask(__name__)


@app.get("/api/v1/lots")
def list_lots() -> Response:
    """List lots."""
    with Session(engine) as session:
        return jsonify(items=LotSchema(many=True).dump(lots(session)))
