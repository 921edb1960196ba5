"""Promise 14: every change of an output has a reason in words, every blocked demand what blocks it."""

from dataclasses import replace

from builders import NIGHT, NOON, Life, bench_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.words import explain
from reefguard.settings.model import SensedInput, Staging, Unit
from reefguard.vocabulary import Command, CutoffReport, Reason, RoomAir, Wall

BASE = bench_settings(trust=replace(bench_settings().trust, fastest_c_per_min=60.0))


def life_with(staging: Staging) -> Life:
    assert BASE.fans is not None
    assert BASE.chiller is not None
    return Life(
        replace(
            BASE,
            fans=replace(BASE.fans, staging=staging),
            chiller=replace(BASE.chiller, flow_input=SensedInput(6), start_to_start_s=600.0),
        )
    )


def unlike(before: Command | None, after: Command) -> bool:
    was_on = before is not None and before.on
    return after.on is not was_on


minutes = st.lists(
    st.tuples(
        st.sampled_from([25.0, 26.0, 26.4, 26.9, 27.5, None]),
        st.sampled_from(
            ["", "", "", "trip", "silent", "no flow", "fan out", "chiller out", "humid", "night"]
        ),
        st.integers(1, 30),
    ),
    max_size=15,
)


@settings(max_examples=60, deadline=None)
@given(minutes, st.sampled_from(Staging), st.sampled_from(Unit))
def test_no_output_changes_without_a_new_sentence(
    life_of: list[tuple[float | None, str, int]], staging: Staging, unit: Unit
) -> None:
    life = life_with(staging)
    whole = life.settings
    assert whole.fans is not None
    assert whole.chiller is not None
    before: dict[str, Command] = {}
    for water_c, event, count in life_of:
        fans = tuple(replace(fan, out_of_service=event == "fan out") for fan in whole.fans.fans[:1])
        life.settings = replace(
            whole,
            fans=replace(whole.fans, fans=(*fans, *whole.fans.fans[1:])),
            chiller=replace(whole.chiller, out_of_service=event == "chiller out"),
        )
        for _ in range(count):
            next_s = life.now_s + 5.0
            report = CutoffReport("x", permits=event != "trip", why="too cold", at_s=next_s)
            life.tick(
                {} if water_c is None else water_c,
                cutoff=None if event == "silent" else report,
                flow=event != "no flow",
                room=RoomAir(27.5, 0.95, next_s) if event == "humid" else None,
                wall=Wall(NIGHT if event == "night" else NOON, trusted=True),
            )
            for command in life.decision.commands:
                sentence = explain(command, life.now_s, unit)
                assert len(sentence) > 10
                assert "None" not in sentence
                if unlike(before.get(command.output), command):
                    was = before.get(command.output)
                    assert was is None or (was.why, was.blocked) != (command.why, command.blocked)
                before[command.output] = command


def held_off(reason: Reason, life: Life) -> None:
    """See that the chiller is wanted, held off for this reason, and both are said."""
    command = life.command("chiller")
    assert command.why.reason is Reason.WARM
    assert command.blocked is not None
    assert command.blocked.reason is reason
    sentence = explain(command, life.now_s, Unit.CELSIUS)
    assert sentence.startswith("wanted (display reads 27.50 °C")
    assert "but held off: " in sentence


def test_each_block_of_a_wanted_chiller_is_said_and_those_with_an_end_say_when() -> None:
    life = life_with(Staging.TOGETHER)
    life.last(120.0, 27.5, flow=True)
    held_off(Reason.MINIMUM_OFF, life)
    assert "rests for another 3 min (" in explain(life.command("chiller"), life.now_s, Unit.CELSIUS)
    life.last(300.0, 27.5, flow=True)
    assert life.command("chiller").on
    life.tick(27.5, flow=False)
    held_off(Reason.NO_FLOW, life)
    life.tick(27.5, flow=True)
    held_off(Reason.START_TO_START, life)
    assert "may start again in 7 min 50 s" in explain(life.command("chiller"), life.now_s, Unit.CELSIUS)
    life.tick(27.5, cutoff=None)
    held_off(Reason.CUTOFF_SILENT, life)
    report = CutoffReport("tripped", permits=False, why="22.9 °C at the cutoff's probe", at_s=life.now_s)
    life.tick(27.5, cutoff=report)
    held_off(Reason.CUTOFF_HOLDS, life)
    assert "22.9 °C at the cutoff's probe" in explain(life.command("chiller"), life.now_s, Unit.CELSIUS)
