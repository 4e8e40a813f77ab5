"""Who may do what: one line per address, in groups by who may. Written down by hand, not read from the code.

What makes the world safer (a hold, a void, a start of a recall) needs less than what makes it riskier
(clearing, lifting a hold); a shop sells and does nothing else; an auditor reads.
"""

MATRIX = {
    "owner": """
        POST /policies
        PATCH /settings
        GET POST /tokens
        DELETE /tokens/{token_id}
        GET POST /users
        PATCH /users/{person_id}
        POST /webhooks
        DELETE /webhooks/{webhook_id}
        POST /webhooks/{webhook_id}/rotation
    """,
    "owner manager": """
        POST /certificates/{serial}/revocation
        POST /complaints/{complaint_id}/verdict
        POST /deliveries/{delivery_id}/redelivery
        POST /dispatches/{dispatch_id}/reversal
        POST /lots/{lot_id}/clearance
        DELETE /lots/{lot_id}/holds/{hold_id}
        POST /materials
        PATCH /materials/{material_id}
        POST /plants
        POST /plants/import
        POST /plants/import/preview
        PATCH /plants/{plant_id}
        PUT /plants/{plant_id}/tolerances/{method}
        POST /protocols
        POST /protocols/{code}/versions
        POST /recalls/{recall_id}/closing
        PATCH /suppliers/{supplier_id}
        POST /trials
        POST /trials/{trial_id}/adoption
        POST /trials/{trial_id}/close
    """,
    "owner manager auditor": """
        GET /audit
        GET /audit/check
        GET /webhooks
        GET /webhooks/{webhook_id}
        GET /webhooks/{webhook_id}/deliveries
    """,
    "owner manager seller": """
        POST /dispatches/{dispatch_id}/certificates
        GET /recalls/{recall_id}/customers
        POST /recalls/{recall_id}/notices
        POST /sales-items
        PATCH /sales-items/{item_id}
    """,
    "owner manager seller auditor": """
        GET /dispatches/{dispatch_id}/certificates
    """,
    "owner manager seller shop": """
        POST /dispatches
        POST /reservations
        DELETE /reservations/{reservation_id}
        POST /reservations/{reservation_id}/confirmation
    """,
    "owner manager seller shop auditor": """
        GET /dispatches
        GET /reservations
        GET /reservations/{reservation_id}
    """,
    "owner manager grower": """
        POST /baths
        POST /baths/{bath_id}/discard
        POST /baths/{bath_id}/readings
        POST /inspections
        POST /inspections/{inspection_id}/photos
        POST /inspections/{inspection_id}/photos/{sha256}/void
        POST /inspections/{inspection_id}/void
        POST /lots/{lot_id}/animal-tests
        POST /lots/{lot_id}/losses
        POST /lots/{lot_id}/moves
        POST /lots/{lot_id}/opening
        POST /lots/{lot_id}/rejection
        POST /lots/{lot_id}/repack
        POST /lots/{lot_id}/splits
        POST /lots/{lot_id}/trial-stems
        POST /materials/{material_id}/batches
        POST /photos
        POST /returns
        POST /shelf-readings/{reading_id}/void
        POST /shelves
        POST /shelves/{shelf_id}/temperatures
        POST /shipments
        POST /shipments/import
        POST /shipments/import/preview
        POST /shipments/{shipment_id}/photos
        POST /shipments/{shipment_id}/photos/{sha256}/void
        POST /shipments/{shipment_id}/receipt
        PATCH /stock-batches/{batch_id}
        POST /stock-counts
        POST /stock-disposals
        POST /stock-entries/{entry_id}/reversal
        POST /stock-receipts
        POST /stock-receipts/preview
        POST /stock-uses
        POST /suppliers
        POST /temperatures/{reading_id}/void
        POST /tools
        POST /tools/{tool_id}/disinfections
        POST /tools/{tool_id}/uses
        POST /treatments
        POST /treatments/{treatment_id}/abandon
        POST /treatments/{treatment_id}/finish
        POST /treatments/{treatment_id}/steps/{n}/finish
        POST /treatments/{treatment_id}/steps/{n}/start
        POST /trial-stems/{trial_id}/judgements
        POST /trials/{trial_id}/observations
        POST /trials/{trial_id}/observations/{observation_id}/photos
        POST /trials/{trial_id}/observations/{observation_id}/photos/{sha256}/void
        POST /trials/{trial_id}/observations/{observation_id}/void
        POST /tubs
        PATCH /tubs/{tub_id}
        POST /tubs/{tub_id}/measurements
        POST /tubs/{tub_id}/moves
        POST /tubs/{tub_id}/temperatures
        POST /tubs/{tub_id}/temperatures/preview
        POST /tubs/{tub_id}/water-changes
        POST /water-systems
    """,
    "owner manager grower seller": """
        DELETE POST /calendar-address
        POST /complaints
        POST /lots/{lot_id}/holds
        POST /recalls
        POST /recalls/{recall_id}/extension
    """,
    "owner manager grower seller auditor": """
        GET /baths
        GET /baths/{bath_id}
        GET /calendar-address
        GET /certificates
        GET /certificates/{serial}
        GET /certificates/{serial}.pdf
        GET /certificates/{serial}/replay
        GET /complaints
        GET /complaints/{complaint_id}
        GET /due-work
        GET /epcis/events
        GET /inspections
        GET /inspections/{inspection_id}
        GET /labels.pdf
        GET /lots
        GET /lots/{lot_id}
        GET /lots/{lot_id}/animal-tests
        GET /lots/{lot_id}/certificates
        GET /lots/{lot_id}/clearance
        GET /lots/{lot_id}/history
        GET /lots/{lot_id}/trace
        GET /lots/{lot_id}/trial-stems
        GET /materials
        GET /materials/{material_id}
        POST /mixing-sheets
        GET /pests
        GET /photos/{sha256}
        GET /plants
        GET /plants/{plant_id}
        GET /policies
        GET /policies/{code}/versions/{number}
        GET /protocols
        GET /protocols/{code}/versions/{number}
        GET /recalls
        GET /recalls/{recall_id}
        GET /reports/consumption
        GET /reports/losses
        GET /reports/outcomes
        GET /reports/projection
        GET /reports/reorder
        GET /reports/tubs
        GET /sampling-plan
        GET /settings
        GET /shelves
        GET /shelves/{shelf_id}
        GET /shelves/{shelf_id}/temperatures
        GET /shipments
        GET /shipments/{shipment_id}
        GET /stock-batches
        GET /stock-batches/{batch_id}
        GET /stock-batches/{batch_id}/uses
        GET /stock-entries
        GET /suppliers
        GET /suppliers/{supplier_id}
        GET /suppliers/{supplier_id}/record
        GET /tools
        GET /tools/{tool_id}
        GET /treatments
        GET /treatments/{treatment_id}
        GET /trials
        GET /trials/{trial_id}
        GET /trials/{trial_id}/observations
        GET /trials/{trial_id}/report.pdf
        GET /trials/{trial_id}/result
        GET /tubs
        GET /tubs/{tub_id}
        GET /tubs/{tub_id}/measurements
        GET /tubs/{tub_id}/temperatures
        GET /water-systems
        GET /water-systems/{system_id}
    """,
    "owner manager grower seller shop auditor": """
        GET /events
        GET /inventory
        GET /sales-items
        GET /sales-items/{item_id}
    """,
}
