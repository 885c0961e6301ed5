"""The careful form of a protocol: what is left of it under 18, or where nobody gets an estimate."""

from dataclasses import replace

from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Person, SheetSettings

__all__ = ["careful_protocol", "counts_as_under_18"]


def counts_as_under_18(person: Person, minors: str) -> bool:
    """Tell whether a person's sheet is made for someone under 18.

    Parameters
    ----------
    minors : what the class says: `all` everyone; `some` everyone not said to be of age; `none` only those
        said to be under 18.

    Examples
    --------
    >>> counts_as_under_18(Person("1", "A", "B"), "some"), counts_as_under_18(Person("1", "A", "B"), "none")
    (True, False)
    """
    if minors == "all" or person.under_18 == "yes":
        return True
    return minors == "some" and person.under_18 != "no"


def careful_protocol(protocol: Protocol, settings: SheetSettings) -> Protocol:
    """Return the protocol as a sheet may ask for it.

    Notes
    -----
    Under 18 there are no trunk sites, and no estimate unless the class turned it on and the protocol needs no
    trunk site for it. With `sums-only` nobody gets an estimate. Care beats a protocol's own range of ages.
    Where a protocol has trunk sites only, no site is left, and no sheet can be made of it.
    """
    sites = tuple(site for site in protocol.sites if not (settings.under_18 and site.trunk))
    whole = len(sites) == len(protocol.sites)
    allowed = not settings.under_18 or (settings.youth_estimate == "on" and whole)
    if whole and allowed and settings.estimates == "on":
        return protocol
    return replace(protocol, sites=sites, equations=(), conversions=(), default_conversion="")
