"""A look back as a page: what it comes to, what is not known, the pictures, and the numbers behind them."""

from reefguard.lookback.account import account_of
from reefguard.lookback.found import Found
from reefguard.planning import section as told
from reefguard.planning.shown import bound
from reefguard.records.history import FIVE_MINUTES_S
from reefguard.report.lookback_chart import course, day_by_day
from reefguard.report.page import Block, Figure, Listing, Paragraph, Section, Table, page
from reefguard.settings.model import Settings

_FOOT = (
    "From the guard's own history and events. Temperatures are as good as the probes. Mains wiring is a "
    "licensed electrician's work, by local codes."
)
_WIDE = " On a narrow screen the picture scrolls sideways."
_AS_A_LIST = frozenset({"Commissioning", "Commands", "The guard"})


def page_of(
    found: Found,
    before: Found | None,
    settings: Settings,
    *,
    notes: tuple[str, ...] = (),
    usual_highest_c: float | None = None,
) -> str:
    """Return the page, a whole HTML document; the arguments are those of `account_of`."""
    account = account_of(found, before, settings, notes=notes, usual_highest_c=usual_highest_c)
    first, *others = (bound(sentence) for sentence in account.verdict)
    sections = [Section("What else asks for you", (Listing(tuple(others)),))] if others else []
    # What is not known stands before the pictures too.
    sections += [_section(section) for section in account.sections[:1]]
    sections += _pictures(found, settings)
    sections += [_section(section) for section in account.sections[1:]]
    return page(account.title, sections, lead=first, foot=_FOOT)


def _pictures(found: Found, settings: Settings) -> list[Section]:
    sections = []
    drawn = course(found, settings)
    if drawn is not None:
        means = "" if found.seen.past.span_s <= FIVE_MINUTES_S else " Lines are means over an hour."
        gaps = "What lies in the shaded band is safe; where nothing is known, the lines have gaps."
        caption = gaps + means + _WIDE
        sections.append(Section("How it went", (Figure(caption, drawn),)))
    days = day_by_day(found, settings)
    if days is not None:
        caption = (
            "Whole days only. The higher a bar, the longer the output ran that day; full height is all day."
            + _WIDE
        )
        sections.append(Section("Each day on its own", (Figure(caption, days),)))
    return sections


def _section(section: told.Section) -> Section:
    texts = tuple(bound(text) for text in section.paragraphs)
    blocks: tuple[Block, ...] = tuple(map(Paragraph, texts))
    if section.title in _AS_A_LIST and len(texts) > 1:
        blocks = (Listing(texts),)
    if section.table is not None:
        blocks += (Table(f"{section.title}, in numbers", section.table.head, section.table.rows),)
    return Section(section.title, blocks)
