"""What the environment says, read once and complete, or a refusal to start."""

from dataclasses import dataclass
from ipaddress import IPv4Network, IPv6Network, ip_network
from pathlib import Path

from environs import Env, EnvError
from marshmallow.validate import OneOf, Range

SECRET_FILE = "secret.key"
SIGNING_KEY_FILE = "signing-key.json"
HEADS_FILE = "journal-heads.jsonl"


class SettingsProblem(Exception):
    """A setting is missing or malformed; the message names every one of them and the remedy."""


@dataclass(frozen=True)
class Settings:
    """All settings of one process; `home` holds the embedded database, keys and the file queue."""

    home: Path
    database_url: str
    redis_url: str | None
    secret: str
    signing_key_file: Path
    public_url: str
    log_level: str
    webhook_allow: tuple[IPv4Network | IPv6Network, ...] = ()  # private networks that events may be sent to
    check_misses: int = 30  # unknown numbers that one address may ask the public check for in 15 minutes
    requests_per_minute: int = 600  # that one token may ask, of each web process; a minute's worth at once
    photo_folder: Path | None = None  # in the house's own folder when left out
    proxies: int = 0  # servers in front of this one that each add the address they were asked from
    unsafe_database: bool = False  # start on a database that may forget what it acknowledged

    @property
    def photos(self) -> Path:
        """The folder that photos are kept in."""
        return self.photo_folder or self.home / "photos"

    @property
    def heads(self) -> Path:
        """The file that a signed head of the journal is appended to each night."""
        return self.home / HEADS_FILE

    @property
    def embedded(self) -> bool:
        """True when no broker is set: web, worker and beat share one machine and a folder."""
        return self.redis_url is None


def home_folder() -> Path:
    """The folder of the house that the environment names, made or not."""
    return Env(prefix="DIPLEDGER_").path("HOME", Path("var/dipledger")).expanduser().resolve()


def read_settings() -> Settings:
    """Read `DIPLEDGER_*`; raises SettingsProblem naming what is missing or malformed."""
    env = Env(eager=False, prefix="DIPLEDGER_")
    home = env.path("HOME", Path("var/dipledger"))
    database_url = env.str("DATABASE_URL", "")
    redis_url = env.str("REDIS_URL", "")
    secret = env.str("SECRET_KEY", "")
    secret_file = env.path("SECRET_KEY_FILE", None)
    signing_key_file = env.path("SIGNING_KEY_FILE", None)
    public_url = env.str("PUBLIC_URL", "http://127.0.0.1:8000")
    log_level = env.str("LOG_LEVEL", "INFO", validate=OneOf(["DEBUG", "INFO", "WARNING", "ERROR"]))
    webhook_allow = env.str("WEBHOOK_ALLOW", "")
    check_misses = env.int("CHECK_MISSES", 30, validate=Range(1, 10_000))
    requests_per_minute = env.int("REQUESTS_PER_MINUTE", 600, validate=Range(10, 1_000_000))
    photo_folder = env.path("PHOTO_FOLDER", None)
    proxies = env.int("PROXIES", 0, validate=Range(0, 5))
    unsafe_database = env.bool("UNSAFE_DATABASE", False)
    try:
        env.seal()
    except EnvError as problem:
        raise SettingsProblem(str(problem)) from problem
    home = home.expanduser().resolve()
    return Settings(
        home=home,
        database_url=database_url or f"sqlite:///{home / 'dipledger.sqlite3'}",
        redis_url=redis_url or None,
        secret=_secret(secret, secret_file or home / SECRET_FILE),
        signing_key_file=signing_key_file or home / SIGNING_KEY_FILE,
        public_url=public_url.rstrip("/"),
        log_level=log_level,
        webhook_allow=_networks(webhook_allow),
        check_misses=check_misses,
        requests_per_minute=requests_per_minute,
        photo_folder=photo_folder and photo_folder.expanduser().resolve(),
        proxies=proxies,
        unsafe_database=unsafe_database,
    )


def _networks(text: str) -> tuple[IPv4Network | IPv6Network, ...]:
    try:
        return tuple(ip_network(part.strip()) for part in text.split(",") if part.strip())
    except ValueError as problem:
        raise SettingsProblem(
            f"DIPLEDGER_WEBHOOK_ALLOW: {problem}; name networks like 192.168.7.20/32, with commas between."
        ) from problem


def _secret(given: str, file: Path) -> str:
    if not given:
        try:
            given = file.read_text("utf-8").strip()
        except OSError as problem:
            raise SettingsProblem(
                f"No secret: {file} cannot be read and DIPLEDGER_SECRET_KEY is not set. "
                "Run 'dipledger init' once, or set DIPLEDGER_SECRET_KEY to 32 random characters or more."
            ) from problem
    if len(given) < 32 or len(set(given)) < 10:
        raise SettingsProblem(
            "DIPLEDGER_SECRET_KEY is too weak: use 32 random characters or more, "
            'for example from: python3 -c "import secrets; print(secrets.token_urlsafe(32))"'
        )
    return given
