"""Asks a running server everything that its own description allows, and much that it does not.

    probe.py http://127.0.0.1:8080 OWNER_EMAIL OWNER_PASSWORD [EXAMPLES]

The description is validated (openapi-spec-validator), then schemathesis asks each route as a
signed-in owner. Fails when the server fails (5xx), or answers with a status, media type or body
that its description does not have, or takes what its description forbids.
"""

import json
import subprocess
import sys
import urllib.request
from pathlib import Path

from openapi_spec_validator import validate

CHECKS = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "negative_data_rejection",
    "ignored_auth",
]


def ask(url, body=None):
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(url, data, {"Content-Type": "application/json"})
    with urllib.request.urlopen(request) as answer:
        return json.load(answer)


def main(base, email, password, examples="50"):
    description = f"{base}/api/openapi.json"
    document = ask(description)
    validate(document)
    routes = sum(len(methods) for methods in document["paths"].values())
    print(f"the description is valid: {routes} routes", flush=True)
    session = ask(f"{base}/api/session", {"email": email, "password": password})
    command = [
        str(Path(sys.executable).parent / "schemathesis"),
        "run",
        description,
        "--url",
        base,
        "--header",
        f"Authorization: Bearer {session['access_token']}",
        "--checks",
        ",".join(CHECKS),
        "--max-examples",
        examples,
        "--phases",
        "examples,coverage,fuzzing",
        # The line is a WebSocket, which this tool does not speak; tests of its own do.
        "--exclude-path",
        "/sync",
        # The same questions in every run.
        "--seed",
        "1",
        "--generation-database",
        "none",
        "--generation-deterministic",
        "--no-color",
        "--continue-on-failure",
    ]
    return subprocess.run(command).returncode


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
