"""Whether an advisory stands against what is installed: pip-audit asks, in an environment of its own.

Exit code 1 where one does. Where no advisory source can be asked, or it knows nothing of what is installed, that is
said and is no failure: what was looked up by hand, and when, stands in DEVELOPERS.md.
"""

import json
import subprocess
import sys
import sysconfig
import tempfile
import venv
from pathlib import Path
from typing import Any

NOT_LOADED = {"pip", "setuptools"}
"""What Python's own environment brings; the program never loads it, and it installs nothing later."""
PATIENCE = 300.0
"""Seconds that the tool may take."""
BY_HAND = "DEVELOPERS.md, What is installed, says what was looked up by hand, and when."


def verdict(report: dict[str, Any]) -> tuple[int, list[str]]:
    """The exit code and what is said of a report of pip-audit's."""
    packages = [package for package in report["dependencies"] if package["name"] not in NOT_LOADED]
    asked = [package for package in packages if "vulns" in package]
    said = [
        f"{package['name']} {package['version']}: {flaw['id']}, fixed in {fixed}"
        for package in asked
        for flaw in package["vulns"]
        for fixed in [", ".join(flaw["fix_versions"]) or "none yet"]
    ]
    if said:
        return 1, said
    if not asked:
        return 0, [f"No advisory source knows what is installed here. {BY_HAND}"]
    passed_over = [package["name"] for package in packages if package not in asked and package["name"] != "renovation"]
    said = [f"No advisory stands against {len(asked)} packages."]
    return 0, said + ([f"Not known to the source: {', '.join(passed_over)}. {BY_HAND}"] if passed_over else [])


def audit() -> dict[str, Any] | None:
    """What pip-audit reports of this environment; None where it cannot be had, or cannot ask."""
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        python, found = Path(folder, "bin", "python"), Path(folder, "found.json")
        ask = [python, "-m", "pip_audit", "--path", sysconfig.get_path("purelib"), "--progress-spinner", "off"]
        try:
            subprocess.run([python, "-m", "pip", "install", "-qq", "pip-audit"], check=True, timeout=PATIENCE)
            subprocess.run([*ask, "--format", "json", "--output", found], timeout=PATIENCE, capture_output=True)
            report: dict[str, Any] = json.loads(found.read_text("utf-8"))
        except (subprocess.SubprocessError, OSError, json.JSONDecodeError):
            return None
        return report


def main() -> int:
    """Ask, say and give the exit code."""
    report = audit()
    code, said = (0, [f"No advisory source can be asked here. {BY_HAND}"]) if report is None else verdict(report)
    sys.stdout.write("\n".join([*said, ""]))
    return code


if __name__ == "__main__":
    sys.exit(main())
