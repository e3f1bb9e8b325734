"""docker-compose.yml and the Dockerfile keep what they promise, as far as reading tells."""

from __future__ import annotations

import re

import pytest
import yaml

from tests.operations.compose import FILE, ROOT, Missing, compose, let_in

SECRETS = {
    "POSTGRES_PASSWORD": "pgsecret",
    "POSTGRES_APP_PASSWORD": "appsecret",
    "REDIS_PASSWORD": "redissecret",
    "SECRET_KEY": "a key of more than fifty characters, made up for these tests",
    "BASE_URL": "https://leads.agency.example",
}
WHOLE = compose(SECRETS)
SERVICES = WHOLE["services"]
DOCKERFILE = (ROOT / "Dockerfile").read_text()
LASTING = sorted(set(SERVICES) - {"set-up"})


def test_these_services_make_the_whole():
    assert sorted(SERVICES) == ["beat", "db", "redis", "set-up", "web", "worker"]


@pytest.mark.parametrize("name", SERVICES)
def test_no_service_may_more_than_it_needs(name):
    service = SERVICES[name]
    assert re.fullmatch(r"[1-9]\d*:[1-9]\d*", service["user"])
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert not service.get("privileged")
    assert {"mem_limit", "cpus", "pids_limit"} <= set(service)


@pytest.mark.parametrize("name", LASTING)
def test_what_lasts_is_watched_comes_back_and_ends_in_its_own_time(name):
    service = SERVICES[name]
    assert {"test", "interval", "timeout", "retries"} <= set(service["healthcheck"])
    assert service["restart"] == "unless-stopped"
    assert service["stop_grace_period"]


def test_only_pages_are_reached_from_outside_and_only_from_this_machine():
    assert [name for name in SERVICES if "ports" in SERVICES[name]] == ["web"]
    assert SERVICES["web"]["ports"] == ["127.0.0.1:8000:8000"]
    assert WHOLE["networks"]["inside"]["internal"] is True
    assert [n for n in SERVICES if "outside" in SERVICES[n]["networks"]] == ["web", "worker"]


@pytest.mark.parametrize("name", SECRETS)
def test_a_secret_has_no_default_and_the_start_says_what_is_missing(name):
    with pytest.raises(Missing, match=f"{name}: set {name}"):
        compose({k: v for k, v in SECRETS.items() if k != name})


def test_no_secret_stands_in_the_file_nor_in_a_command():
    assert not re.search(r"PASSWORD:-|SECRET_KEY:-", FILE.read_text())
    commands = [str(s.get("command")) + str(s.get("healthcheck")) for s in SERVICES.values()]
    assert not any(secret in said for secret in SECRETS.values() for said in commands)


def test_what_is_kept_lies_in_named_volumes_and_uploads_are_shared():
    assert set(WHOLE["volumes"]) == {"database", "uploads"}
    assert SERVICES["web"]["volumes"] == SERVICES["worker"]["volumes"] == ["uploads:/app/data"]
    assert SERVICES["db"]["volumes"] == ["database:/var/lib/postgresql/data"]


def test_two_processes_or_more_serve_pages():
    assert int(SERVICES["web"]["environment"]["WEB_CONCURRENCY"]) >= 2


def test_what_comes_from_elsewhere_is_named_by_its_version():
    images = [SERVICES[name]["image"] for name in ("db", "redis")]
    images += re.findall(r"^FROM (\S+)", DOCKERFILE, re.MULTILINE)
    assert all(re.fullmatch(r"[a-z]+:\d[\w.-]+", image) for image in images), images
    assert int(re.search(r"postgres:(\d+)", SERVICES["db"]["image"])[1]) >= 15


def test_the_image_has_the_programs_that_dump_just_this_database():
    server = re.search(r"postgres:(\d+)", SERVICES["db"]["image"])[1]
    assert f"postgresql-client-{server} " in DOCKERFILE
    # Debian 13, "trixie", has PostgreSQL 17 (from memory).
    assert set(re.findall(r"^FROM python:\S+-(\w+)", DOCKERFILE, re.MULTILINE)) == {"trixie"}


def test_the_service_that_takes_backups_signs_in_as_the_owner_and_reaches_uploads():
    environment = SERVICES["set-up"]["environment"]
    assert environment["DATABASE_URL"].startswith("postgres://pipeline:")
    assert SERVICES["set-up"]["volumes"] == ["uploads:/app/data"]


def test_every_variable_of_the_file_is_explained_in_the_readme():
    readme = (ROOT / "README.md").read_text()
    named = set(re.findall(r"\$\{(\w+):", FILE.read_text()))
    named |= set(SERVICES["web"]["environment"])
    assert [name for name in sorted(named) if f"`{name}`" not in readme] == []


def test_the_programs_environment_is_one_that_its_settings_read():
    settings = (ROOT / "pipeline" / "settings.py").read_text()
    for name in SERVICES["web"]["environment"]:
        assert f'"{name}"' in settings, name


def test_the_image_is_built_from_the_lock_with_hashes_and_runs_as_nobody_else():
    assert "--require-hashes -r /tmp/requirements.lock" in DOCKERFILE
    assert DOCKERFILE.index("USER 10001:10001") > DOCKERFILE.index("COPY . .")
    assert SERVICES["web"]["user"] == "10001:10001"
    assert SERVICES["web"]["command"] == yaml.safe_load(DOCKERFILE.rpartition("CMD ")[2])


def test_nothing_goes_into_the_image_but_what_the_program_is_made_of():
    found = let_in()
    assert set(found) == {"manage.py", "requirements.lock", "pipeline", "sessions", "templates"}
    assert all((ROOT / name).exists() for name in found)
