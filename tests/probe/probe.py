"""Asks a running server everything that its own description allows, and much that it does not.

    probe.py http://127.0.0.1:8080 OWNER_EMAIL OWNER_PASSWORD [EXAMPLES]

The description is validated (openapi-spec-validator), then schemathesis asks each route as a
signed-in owner. Fails when the server fails (5xx), or answers with a status, media type or body
that its description does not have, or takes what its description forbids.
"""

import json
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path

from openapi_spec_validator import validate

# A spent link (410) and another version of tus (412) are refusals too: they are told before the rest of
# a wrong question is looked at.
SETTINGS = """
[checks.negative_data_rejection]
expected-statuses = [400, 401, 403, 404, 405, 406, 409, 410, 412, 413, 415, 422, 428, 429]
"""

CHECKS = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "negative_data_rejection",
    "ignored_auth",
]


# These end the asker's own session sooner or later, so they are asked last.
LAST = [
    "post-api-people-user-role",
    "delete-api-people-user",
    "delete-api-people-user-devices-device",
    "delete-api-devices-device",
    "delete-api-session",
]
FOLLOWED = "get-api-follow-statements"


def ask(url, body=None, token=None):
    data = None if body is None else json.dumps(body).encode()
    headers = {"Content-Type": "application/json"}
    if token:
        headers["Authorization"] = f"Bearer {token}"
    with urllib.request.urlopen(urllib.request.Request(url, data, headers)) as answer:
        return json.load(answer)


def follower(base, token):
    """An adjuster's token, with a link to the demo car."""
    book = ask(f"{base}/api/jobs", token=token)[0]["book"]
    wanted = {"label": "probe", "days": 1}
    link = ask(f"{base}/api/jobs/{book}/links", wanted, token)["link"]
    return ask(f"{base}/api/follow", {"token": link.split("/")[-1]})["access_token"]


def probe(base, token, examples, choice):
    command = [
        str(Path(sys.executable).parent / "schemathesis"),
        "run",
        f"{base}/api/openapi.json",
        "--url",
        base,
        "--header",
        f"Authorization: Bearer {token}",
        "--checks",
        ",".join(CHECKS),
        "--max-examples",
        examples,
        "--phases",
        "coverage,fuzzing",
        # The same questions in every run.
        "--generation-deterministic",
        # Many texts cannot stand in a path.
        "--suppress-health-check=filter_too_much",
        "--no-color",
        "--continue-on-failure",
        *choice,
    ]
    # It keeps notes of its own where it runs, and finds its settings there.
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "schemathesis.toml").write_text(SETTINGS)
        return subprocess.run(command, cwd=folder).returncode


def main(base, email, password, examples="50"):
    document = ask(f"{base}/api/openapi.json")
    validate(document)
    routes = sum(len(methods) for methods in document["paths"].values())
    print(f"the description is valid: {routes} routes", flush=True)
    token = ask(f"{base}/api/session", {"email": email, "password": password})["access_token"]
    of = lambda option, names: [word for name in names for word in (option, name)]
    # The line is a WebSocket, which the prober does not speak; tests of its own do.
    most = ["--exclude-path", "/sync", *of("--exclude-operation-id", [*LAST, FOLLOWED])]
    codes = [
        probe(base, token, examples, most),
        probe(base, follower(base, token), examples, ["--include-operation-id", FOLLOWED]),
        probe(base, token, examples, of("--include-operation-id", LAST)),
    ]
    return max(codes)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
