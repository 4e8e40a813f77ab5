"""Every address of the interface, as the contract fixes it."""

CONTRACT = """
GET POST /suppliers
GET PATCH /suppliers/{id}
GET POST /plants
GET PATCH /plants/{id}
POST /plants/import/preview
POST /plants/import
PUT /plants/{id}/tolerances/{method}
GET /pests
GET POST /materials
GET PATCH /materials/{id}
POST /materials/{id}/batches
GET /stock-batches
GET /stock-batches/{id}/uses
GET POST /shelves
GET /shelves/{id}
GET POST /shelves/{id}/temperatures
POST /shelf-readings/{id}/void
POST /stock-receipts/preview
POST /stock-receipts
GET /stock-entries
POST /stock-counts
POST /stock-disposals
POST /stock-uses
POST /stock-entries/{id}/reversal
GET POST /protocols
POST /photos
GET /photos/{id}
POST /protocols/{code}/versions
GET /protocols/{code}/versions/{n}
GET POST /tubs
GET PATCH /tubs/{id}
GET POST /water-systems
GET /water-systems/{id}
GET POST /tools
GET /tools/{id}
POST /tools/{id}/uses
POST /tools/{id}/disinfections
POST /tubs/{id}/moves
GET POST /tubs/{id}/measurements
GET POST /tubs/{id}/temperatures
POST /tubs/{id}/temperatures/preview
POST /temperatures/{id}/void
POST /tubs/{id}/water-changes
POST GET /shipments
GET /shipments/{id}
POST /shipments/import/preview
POST /shipments/import
POST /shipments/{id}/receipt
POST /shipments/{id}/photos
POST /shipments/{id}/photos/{id}/void
GET /lots
GET /lots/{id}
POST /lots/{id}/moves
POST /lots/{id}/repack
POST /lots/{id}/opening
GET POST /lots/{id}/animal-tests
GET POST /lots/{id}/trial-stems
POST /trial-stems/{id}/judgements
POST /lots/{id}/splits
POST /lots/{id}/losses
POST /lots/{id}/rejection
POST /lots/{id}/holds
DELETE /lots/{id}/holds/{hold}
GET /lots/{id}/certificates
GET /lots/{id}/history
GET POST /lots/{id}/clearance
GET /lots/{id}/trace
GET /suppliers/{id}/record
GET POST /complaints
GET /complaints/{id}
POST /complaints/{id}/verdict
GET POST /recalls
GET /recalls/{id}
GET /recalls/{id}/customers
POST /recalls/{id}/notices
POST /recalls/{id}/extension
POST /recalls/{id}/closing
POST /mixing-sheets
GET /sampling-plan
GET POST /treatments
GET /treatments/{id}
POST /treatments/{id}/steps/{n}/start
POST /treatments/{id}/steps/{n}/finish
POST /treatments/{id}/finish
POST /treatments/{id}/abandon
GET POST /baths
GET /baths/{id}
POST /baths/{id}/readings
POST /baths/{id}/discard
GET POST /inspections
POST /inspections/{id}/photos
POST /inspections/{id}/photos/{id}/void
POST /inspections/{id}/void
GET POST /policies
GET /policies/{code}/versions/{n}
GET /certificates
GET /certificates/{serial}
GET /certificates/{serial}.pdf
GET /certificates/{serial}/replay
POST /certificates/{serial}/revocation
GET /labels.pdf
GET /inventory
GET POST /sales-items
GET PATCH /sales-items/{id}
GET POST /reservations
GET DELETE /reservations/{id}
POST /reservations/{id}/confirmation
GET POST /dispatches
POST /dispatches/{id}/reversal
POST /returns
GET POST /dispatches/{id}/certificates
GET /due-work
GET POST DELETE /calendar-address
GET POST /trials
GET /trials/{id}
GET POST /trials/{id}/observations
POST /trials/{id}/observations/{id}/photos
POST /trials/{id}/observations/{id}/photos/{id}/void
POST /trials/{id}/close
GET /trials/{id}/result
POST /trials/{id}/adoption
GET /reports/consumption
GET /reports/losses
GET /reports/tubs
GET /reports/reorder
GET /reports/outcomes
GET /reports/projection
GET POST /users
PATCH /users/{id}
GET /events
GET /epcis/events
GET POST /webhooks
GET DELETE /webhooks/{id}
POST /webhooks/{id}/rotation
GET /webhooks/{id}/deliveries
POST /deliveries/{id}/redelivery
GET POST /tokens
DELETE /tokens/{id}
GET PATCH /settings
GET /audit
GET /audit/check
"""
