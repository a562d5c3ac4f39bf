"""Findings that say the same of many letters, put together, so that two hundred letters do not fill thirty pages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from geometry.findings import Finding, Severity

_ORDER: Final = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


@dataclass(frozen=True, slots=True)
class FindingGroup:
    """Findings of one code and severity, in the order they were made; never empty."""

    findings: tuple[Finding, ...]

    @property
    def severity(self) -> Severity:
        """How much they matter."""
        return self.findings[0].severity

    def shown(self, most: int) -> tuple[Finding, ...]:
        """Those told in full: at most so many, but every one of something asked for that was not done."""
        return self.findings if self.severity is Severity.ERROR else self.findings[:most]

    def others(self, most: int) -> str:
        """Where the rest of them are: "bakery-14, pantry-09 (3)"; empty when all are told in full."""
        counts = Counter(finding.subject for finding in self.findings[len(self.shown(most)) :])
        return ", ".join(name if count == 1 else f"{name} ({count})" for name, count in counts.items() if name)


def group_findings(findings: Iterable[Finding]) -> tuple[FindingGroup, ...]:
    """Findings by code, the gravest first."""
    together: dict[tuple[Severity, str], list[Finding]] = {}
    for finding in findings:
        together.setdefault((finding.severity, finding.code), []).append(finding)
    groups = (FindingGroup(tuple(one)) for one in together.values())
    return tuple(sorted(groups, key=lambda group: _ORDER[group.severity]))


def more_like_it(count: int) -> str:
    """Words after a finding that stands for others too; empty when there are none."""
    return f" (and {count:,} more like it)" if count else ""
