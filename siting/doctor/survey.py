"""When it was surveyed, and whether its points were moved on purpose."""

from collections.abc import Iterator
from datetime import date

from siting.finding import Finding, Sure
from siting.site import Site

DISPLACED = ("dhsclust", "dhsid")
"""Attributes of household-survey clusters, which are moved on purpose: up to 2 km in towns, 5 km elsewhere, 1 % 10 km.

Source: The DHS Program, Geographic Data Analysis (methodology page; seen).
"""
YEAR_DAYS = 365.25


def findings(site: Site, *, today: date | None) -> tuple[Finding, ...]:
    """What the dates and the origin of the points tell; without a day to reckon from, no age is judged."""
    return (*(_ages(site, today) if today else ()), *_displaced(site))


def _ages(site: Site, today: date) -> Iterator[Finding]:
    survey = site.survey
    if survey.on is not None:
        yield from _age("the survey", survey.on, today, survey.stale_after_years, file="site.toml", row=None)
    for feature in site.features:
        if feature.seen_on is not None and feature.origin is not None:
            yield from _age(
                repr(feature.name), feature.seen_on, today, survey.stale_after_years,
                file=feature.origin.file, row=feature.origin.row,
            )  # fmt: skip


def _age(what: str, day: date, today: date, most_years: float, *, file: str, row: int | None) -> Iterator[Finding]:
    years = (today - day).days / YEAR_DAYS
    if 0.0 <= years <= most_years:
        return
    future = years < 0.0
    yield Finding(
        code="date-in-future" if future else "survey-old",
        seen=f"{what} is dated {day}, after {today}"
        if future
        else f"{what} is {years:.1f} years old on {today}; wells are sunk and given up every year",
        file=file,
        row=row,
        value=str(day),
        sure=Sure.CERTAIN,
        repair="correct the date" if future else "walk the ground again and write the new date",
        accept=f"{'date' if future else 'age'}: {what.strip(chr(39))}",
        stops=False,
    )


def _displaced(site: Site) -> Iterator[Finding]:
    for feature in site.features:
        if any(key in feature.attributes for key in DISPLACED):
            yield Finding(
                code="displaced-points",
                seen=f"{feature.name!r} comes from household-survey clusters, whose positions are moved on purpose",
                file=feature.origin.file if feature.origin else feature.source,
                row=feature.origin.row if feature.origin else None,
                sure=Sure.CERTAIN,
                effect_m=5000.0,
                repair="measure where it stands; such points are of no use for distances",
                accept=f"displaced points: {feature.source}",
                stops=True,
            )
            return
