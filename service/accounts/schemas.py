"""What goes in and out of accounts."""

from zoneinfo import available_timezones

from babel import Locale, UnknownLocaleError
from marshmallow import ValidationError, fields, validate, validates

from service.accounts.rules import DEFAULT_DAYS, LONGEST_DAYS, Role
from service.core.fields import Form, Instant, Ref, Text, Whole
from service.core.gs1 import GLN
from service.core.gs1_field import Gs1Key


class TokenIn(Form):
    """A token to make: a person's, or a program's when it names nobody."""

    name = Text(longest=80, required=True)
    role = fields.Enum(Role, by_value=True, required=True)
    days = Whole(least=1, most=LONGEST_DAYS, load_default=DEFAULT_DAYS)
    person_id = Ref(load_default=None, allow_none=True)


class TokenOut(Form):
    """A token, without its secret."""

    id = fields.String()
    name = fields.String()
    role = fields.String()
    person_id = fields.String(allow_none=True)
    created_at = Instant()
    expires_at = Instant()
    revoked_at = Instant(allow_none=True)
    version = fields.Integer()


class NewTokenOut(TokenOut):
    """A token just made: the only time its secret is shown."""

    secret = fields.String()


class HouseIn(Form):
    """Settings to change."""

    time_zone = Text(longest=64)
    locale = Text(longest=20, metadata={"description": "How dates and numbers are written, like en_GB."})
    units = fields.String(validate=validate.OneOf(["si", "us"]))
    issuer_name = Text(longest=200)
    issuer_address = Text(longest=1000)
    late_entry_limit_days = Whole(least=1, most=366)
    country = fields.String(
        validate=validate.Regexp(r"^[A-Z]{2}$", error="Two capital letters (ISO 3166-1)."), allow_none=True
    )
    subdivision = fields.String(
        validate=validate.Regexp(r"^[A-Z]{2}-[A-Z0-9]{1,3}$", error="Like US-VT (ISO 3166-2)."),
        allow_none=True,
    )
    registration_number = Text(
        longest=80, allow_none=True, metadata={"description": "Of the house's plant-health registration."}
    )
    gs1_prefix = fields.String(
        validate=validate.Regexp(r"^[0-9]{4,12}$", error="Not 4 to 12 digits."), allow_none=True
    )
    gln = Gs1Key(GLN, allow_none=True)

    @validates("time_zone")
    def known_zone(self, value: str, data_key: str) -> None:
        """Only zones of the IANA database."""
        if value not in available_timezones():
            raise ValidationError("Not an IANA time zone, like Europe/Lisbon.")

    @validates("locale")
    def known_locale(self, value: str, data_key: str) -> None:
        """Only locales of the Unicode CLDR that Babel knows."""
        try:
            Locale.parse(value)
        except (UnknownLocaleError, ValueError) as problem:
            raise ValidationError("Not a locale, like en_GB or pt_PT.") from problem


class HouseOut(Form):
    """The house's settings."""

    time_zone = fields.String()
    locale = fields.String()
    units = fields.String()
    issuer_name = fields.String()
    issuer_address = fields.String()
    late_entry_limit_days = fields.Integer()
    country = fields.String(allow_none=True)
    subdivision = fields.String(allow_none=True)
    registration_number = fields.String(allow_none=True)
    gs1_prefix = fields.String(allow_none=True)
    gln = fields.String(allow_none=True)
    version = fields.Integer()


HUMAN = [role.value for role in Role if role is not Role.SHOP]


class PersonIn(Form):
    """Somebody who will sign in; the first password is made here."""

    name = Text(longest=80, required=True)
    role = fields.String(required=True, validate=validate.OneOf(HUMAN))


class PersonChangeIn(Form):
    """What to change of a person; he is signed out wherever he is signed in."""

    role = fields.String(validate=validate.OneOf(HUMAN))
    active = fields.Boolean()
    new_password = fields.Boolean(load_default=False)


class PersonOut(Form):
    """A person, without what proves him."""

    id = fields.String()
    name = fields.String()
    role = fields.String()
    active = fields.Boolean()
    one_time_password = fields.Boolean()
    created_at = Instant()
    version = fields.Integer()


class PersonWithSecretOut(PersonOut):
    """A person; a password just made for him is shown this once."""

    secret = fields.String()
