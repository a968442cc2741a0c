"""Findings of the doctor for a terminal: what stops first, each with its effect and both ways on."""

from collections.abc import Sequence

from siting.finding import Finding, length


def text(name: str, findings: Sequence[Finding]) -> str:
    """All findings of a site, most serious first."""
    stopping = [finding for finding in findings if finding.stops]
    warnings = [finding for finding in findings if not finding.stops]
    if not findings:
        return f"{name}: nothing doubtful found"
    lines = [f"{name}: {_count(stopping, 'finding stops', 'findings stop')} every command, "
             f"{_count(warnings, 'warning', 'warnings')}"]  # fmt: skip
    for finding in (*stopping, *warnings):
        lines += _lines(finding)
    return "\n".join(lines)


def _count(findings: Sequence[Finding], one: str, many: str) -> str:
    return f"{len(findings)} {one if len(findings) == 1 else many}"


def _lines(finding: Finding) -> list[str]:
    state = "stops" if finding.stops else "accepted" if finding.accepted else "warning"
    where = f"{finding.file}" + (f", row {finding.row}" if finding.row is not None else "") if finding.file else ""
    lines = [f"{state}: {finding.code} ({finding.sure}){': ' + where if where else ''}", f"  seen: {finding.seen}"]
    if finding.effect_m is not None:
        lines.append(f"  effect: up to {length(finding.effect_m)}")
    lines.append(f"  to correct: {finding.repair}")
    if finding.accept and not finding.accepted:
        lines.append(f"  to accept, in site.toml: {finding.accept_line}")
    if finding.instead and not finding.accepted:
        lines.append(f'  for the other repair: accept = ["{finding.instead}"]')
    return lines


def exit_status(findings: Sequence[Finding]) -> int:
    """0 for nothing, 3 for warnings only, 2 where something stops."""
    if any(finding.stops for finding in findings):
        return 2
    return 3 if findings else 0
