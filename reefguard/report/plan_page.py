"""A plan as a page: the verdict, two pictures, and the numbers behind them."""

from reefguard.planning import section as told
from reefguard.planning.account import account_of
from reefguard.planning.model import Plan
from reefguard.planning.shown import bound
from reefguard.report.page import Block, Figure, Listing, Paragraph, Section, Table, page
from reefguard.report.plan_curves import plan_curves
from reefguard.report.plan_flows import plan_flows

_FOOT = (
    "Worked out, not measured. A plan is no guarantee for animals. Mains wiring is a licensed electrician's "
    "work, by local codes."
)


def page_of(plan: Plan) -> str:
    """Return the page, a whole HTML document.

    Args:
        plan: to be shown.
    """
    account = account_of(plan)
    first, *others = (bound(sentence) for sentence in account.verdict)
    sections = [Section("What follows from that", (Listing(tuple(others)),))] if others else []
    sections += _pictures(plan)
    sections += [_section(section) for section in account.sections]
    return page(account.title, sections, lead=first, foot=_FOOT)


def _pictures(plan: Plan) -> list[Section]:
    curves, flows = plan_curves(plan), plan_flows(plan)
    sections = []
    if curves is not None:
        caption = "From midnight to midnight; what lies in the shaded band is safe."
        sections.append(Section("The water through the day", (Figure(caption, curves),)))
    if flows is not None:
        caption = "Mean of the day. Where the water settles, both sides are equally long."
        sections.append(Section("Where its heat comes from and goes", (Figure(caption, flows),)))
    return sections


def _section(section: told.Section) -> Section:
    blocks: tuple[Block, ...] = tuple(Paragraph(bound(text)) for text in section.paragraphs)
    if section.table is not None:
        blocks += (Table(f"{section.title}, in numbers", section.table.head, section.table.rows),)
    return Section(section.title, blocks)
