"""All that the doctor has to say of one site, and what follows from it."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

from siting.doctor import doubles, extents, heights, surroundings, survey, twins
from siting.finding import Finding, effect, marked, refuse_to_decide, unused
from siting.rules import Pack
from siting.site import Notice, Site

SITE_FILE = "site.toml"


def findings(site: Site, packs: Sequence[Pack] = (), *, today: date | None = None) -> tuple[Finding, ...]:
    """Every finding of a site, those of its readers first; what somebody accepts no longer stops.

    `today` is the day that ages are reckoned from; without it no age is judged.
    """
    seen = (*survey.findings(site, today=today), *heights.findings(site))
    # while positions are in doubt, what lies outside or stands twice follows from that and would only bury it
    if not any(finding.stops for finding in site.findings):
        shifted = marked(twins.findings(site), site.accept)
        seen = (*shifted, *seen)
        if not any(finding.stops for finding in shifted):
            seen = (*extents.findings(site), *surroundings.findings(site, packs), *doubles.findings(site), *seen)
    found = (*site.findings, *marked(seen, site.accept))
    # what is put off above cannot be told from what is not there any more
    stale = () if any(finding.stops for finding in found) else unused(site.accept, found, file=SITE_FILE)
    return (*found, *stale)


def examined(site: Site, packs: Sequence[Pack] = (), *, today: date | None = None) -> Site:
    """The site with its findings as warnings; raises InputError with every finding that could flip a verdict."""
    found = findings(site, packs, today=today)
    refuse_to_decide(found)
    return replace(site, findings=found, notices=(*site.notices, *notices(found)))


def notices(found: Iterable[Finding]) -> tuple[Notice, ...]:
    """Findings as the warnings that every output carries."""
    return tuple(Notice(code=each.code, message=_said(each), file=each.file, row=each.row) for each in found)


def _said(finding: Finding) -> str:
    state = ""
    if finding.accepted:
        state = " (repaired as accepted)" if finding.change else " (accepted)"
    return f"{finding.seen} [{finding.sure}{effect(finding)}]{state}"
