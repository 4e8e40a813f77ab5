"""Photos in and out."""

from marshmallow import fields, validate

from service.core.fields import Form, Instant, Text
from service.journal.web import ActForm
from service.photos.rules import MOST_OF_ONE_LOOK, SHA256

HASH = validate.Regexp(
    rf"^{SHA256.pattern}\Z", error="Give the SHA-256 of the photo: 64 hex digits, small letters."
)


class PhotoNamedIn(Form):
    """A photo that is kept, by the SHA-256 that POST /photos answered."""

    sha256 = fields.String(required=True, validate=HASH)


class PhotosIn(ActForm):
    """Photos to add to a look that was made."""

    photos = fields.List(
        fields.Nested(PhotoNamedIn), required=True, validate=validate.Length(min=1, max=MOST_OF_ONE_LOOK)
    )


class PhotoOut(Form):
    """A photo as it is kept: upright, without metadata. A PDF is kept as it came, and has no points."""

    sha256 = fields.String(metadata={"description": "Of what is kept; it names the photo."})
    media_type = fields.String()
    bytes = fields.Integer()
    width = fields.Integer(allow_none=True)
    height = fields.Integer(allow_none=True)
    label = fields.String(
        allow_none=True,
        metadata={"description": "Of a trial: the unit or tub it shows. Of a shipment: which paper it is."},
    )
    address = fields.String()
    voided_at = Instant(allow_none=True, metadata={"description": "Since when the picture is hidden."})
    voided_by = fields.String(allow_none=True)
    void_reason = fields.String(allow_none=True)


class VoidPhotoIn(Form):
    """Why a photo is void; `label`: only where it shows this, else wherever it is of the thing."""

    reason = Text(required=True)
    label = Text(longest=80, load_default=None, allow_none=True)


class SizeQuery(Form):
    """As it is kept, or small."""

    size = fields.String(load_default="kept", validate=validate.OneOf(["kept", "small"]))
