"""Ask whether anything the service is made of is known to be unsafe; run by `make audit`.

pip-audit by itself ends well when it could ask about nothing, so its answer is read here.
"""

import json
import subprocess
import sys

QUESTION = (
    "pip-audit --require-hashes --disable-pip --progress-spinner off --format json -r requirements/run.txt"
)
NOBODY = (
    "No source of advisories could be reached, so NOTHING was checked. Run `make audit` where the internet "
    "is, or go through build/sbom.json by hand (docs/operations.md)."
)


def main(folder: str) -> int:
    """Print what was asked and found; 1 when something is known to be unsafe."""
    program, *arguments = QUESTION.split()
    done = subprocess.run([f"{folder}/{program}", *arguments], capture_output=True, text=True, check=False)
    try:
        packages = json.loads(done.stdout)["dependencies"]
    except (json.JSONDecodeError, KeyError):
        packages = []
    asked = [found for found in packages if "skip_reason" not in found]
    unsafe = [found for found in asked if found["vulns"]]
    for found in unsafe:
        known = ", ".join(one["id"] for one in found["vulns"])
        sys.stdout.write(f"{found['name']} {found['version']}: {known}\n")
    result = f"{len(unsafe)} unsafe of {len(asked)} asked about, {len(packages)} in all."
    sys.stdout.write(f"{result if asked else NOBODY}\n")
    return 1 if unsafe else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
