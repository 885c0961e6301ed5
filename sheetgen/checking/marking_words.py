"""Reasons for marks in plain words."""

from collections.abc import Mapping

from sheetgen.model.marking import Reason, SlipFit
from sheetgen.model.protocol import Protocol

__all__ = ["about_title", "reason_text", "redo_text", "slip_title"]

Texts = Mapping[str, str]


def reason_text(reason: Reason, protocol: Protocol, texts: Texts) -> str:
    """Return a reason as a sentence.

    Parameters
    ----------
    texts : the texts of `marking.LANGUAGE`, by dotted key.
    """
    return texts[f"mark_reason.{reason.code}"].format(
        about=about_title(reason.about, protocol, texts),
        slip="; ".join(slip_title(fit, protocol, texts) for fit in reason.slips),
        redo=redo_text(reason.slips, texts),
        count=reason.count,
        chances=reason.chances,
    )


def about_title(about: str, protocol: Protocol, texts: Texts) -> str:
    """Return what a line, a check, a question or a site is called."""
    titles = {site.word: site.title for site in protocol.sites}
    site = about.removeprefix("site_")
    if about.startswith("site_") and site in titles:
        return texts["mark_about.site"].format(site=titles[site])
    return titles.get(about) or texts.get(f"mark_about.{about}", about)


def slip_title(fit: SlipFit, protocol: Protocol, texts: Texts) -> str:
    """Return what happened."""
    titles = {site.word: site.title for site in protocol.sites}
    titles |= {conversion.identifier: conversion.title for conversion in protocol.conversions}
    return texts[f"slip.{fit.word}"].format(detail=titles.get(fit.detail, fit.detail))


def redo_text(fits: tuple[SlipFit, ...], texts: Texts) -> str:
    """Return what to redo, each sentence once."""
    return " ".join(dict.fromkeys(texts[f"slip_redo.{fit.word}"] for fit in fits))
