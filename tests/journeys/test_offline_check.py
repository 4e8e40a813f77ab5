"""Journey (e): a certificate fetched over HTTP is checked without the service, by another JOSE library.

It accepts the good one and refuses each tampered one; so does `dipledger verify`. The library is jwcrypto.
"""

import io

import orjson
from pypdf import PdfReader, PdfWriter

from service.clearance.pdf import ATTACHMENT
from service.clearance.signing import load_public
from service.clearance.verifying import verify
from service.core.clock import utc_now
from service.core.settings import Settings
from tests.api import Api
from tests.clearance.test_verifying import accepted_by, encoded
from tests.journeys.bench import Bench


def inside(page: bytes) -> str:
    return PdfReader(io.BytesIO(page)).attachments[ATTACHMENT][0].decode()


def with_inside(page: bytes, token: str) -> bytes:
    writer = PdfWriter(clone_from=io.BytesIO(page))
    del writer.root_object["/Names"]
    writer.add_attachment(ATTACHMENT, token.encode())
    whole = io.BytesIO()
    writer.write(whole)
    return whole.getvalue()


def test_a_certificate_is_checked_without_the_service(api: Api, settings: Settings) -> None:
    bench = Bench(api)
    lots = [bench.cleared_lot(tub=bench.tub(code)) for code in ("Q1", "Q2")]
    serials = [bench.see(lot)["certificate_serial"] for lot in lots]
    page, other = (api.seller.get(f"/certificates/{serial}.pdf").data for serial in serials)
    jwks = api.nobody.get("/.well-known/jwks.json").data
    trusted, now = load_public(settings.signing_key_file), utc_now()
    token = inside(page)

    def reasons(content: bytes) -> list[str]:
        return [reason.code for reason in verify(content, trusted, now).reasons]

    said = accepted_by(token, jwks)
    assert said is not None
    assert (said["jti"], said["lot"]) == (serials[0], bench.see(lots[0])["code"])
    assert reasons(page) == reasons(token.encode()) == []

    header, payload, signature = token.split(".")
    for claim in said:
        forged = f"{header}.{encoded({**said, claim: 'another'})}.{signature}"
        assert accepted_by(forged, jwks) is None, claim
        assert reasons(forged.encode()) == ["signature"], claim
    for algorithm in ("none", "HS256", "EdDSA"):
        forged = f"{encoded({'alg': algorithm, 'typ': 'snail-clearance+jwt'})}.{payload}.{signature}"
        assert accepted_by(forged, jwks) is None
        assert reasons(forged.encode()) == ["algorithm"]
    for forged in (
        f"{header}.{payload}.{encoded(bytes(64))}",
        f"{header}.{payload}.{inside(other).split('.')[2]}",
    ):
        assert accepted_by(forged, jwks) is None
        assert reasons(forged.encode()) == ["signature"]

    # The page: changed print, and a genuine statement of other plants put into it.
    assert reasons(page.replace(b"%PDF-1.3", b"%PDF-1.4")) == ["page-differs"]
    assert reasons(with_inside(page, inside(other))) == ["page-differs"]
    # A key of somebody else's is none of the issuer's.
    strange = orjson.loads(jwks)
    strange["keys"][0]["x"] = encoded(bytes(31) + b"\x01")
    assert accepted_by(token, orjson.dumps(strange)) is None
