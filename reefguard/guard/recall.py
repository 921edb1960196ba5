"""From the tick's memory to what is kept on disk, and back.

Coming back, nothing kept can start a compressor, and no time of another boot
counts.  Within the same boot the fans go on as they were until the water is
known again or the schedule takes over, with the same clock running.
"""

from reefguard.control.counters import Counter
from reefguard.control.mode import ModeMemory
from reefguard.control.step import Memory, at_start, output_names
from reefguard.records.guard_memory import Kept, KeptOutput
from reefguard.settings.model import Settings
from reefguard.vocabulary import Mode


def to_keep(memory: Memory, settings: Settings, *, now_s: float, boot_id: str, wall: str) -> Kept:
    """Return what is worth keeping of the tick's memory."""
    levels = memory.fans.levels if memory.fans is not None else ()
    outputs = {}
    for place, (name, counter) in enumerate(zip(output_names(settings), memory.counters, strict=True)):
        level = levels[place] if place < len(levels) else float(counter.on)
        outputs[name] = KeptOutput(counter.on, level, counter.elapsed_active_s(now_s), counter.changes)
    compressor = None if memory.chiller is None else memory.chiller.compressor
    stopped_s = None if compressor is None or compressor.running else compressor.since_s
    return Kept(
        boot_id=boot_id,
        saved_s=now_s,
        saved_wall=wall,
        mode=memory.mode.mode,
        last_known_s=memory.mode.last_known_s,
        compressor_stopped_s=stopped_s,
        outputs=outputs,
    )


def recalled(kept: Kept | None, settings: Settings, *, now_s: float, boot_id: str) -> Memory:
    """Return the memory to start with."""
    fresh = at_start(settings, now_s)
    if kept is None:
        return fresh
    known = [kept.outputs.get(name, KeptOutput()) for name in output_names(settings)]
    counters = tuple(Counter(False, now_s, one.elapsed_active_s, one.changes) for one in known)
    memory = fresh._replace(counters=counters)
    if kept.boot_id != boot_id or kept.saved_s > now_s or kept.mode is not Mode.AUTOMATIC:
        return memory
    fans = memory.fans
    if fans is not None:
        ours = known[: len(fans.levels)]
        # Those that ran keep their rank ahead of those that rested, so that none changes places.
        order = tuple(sorted(fans.order, key=lambda place: not ours[place].on))
        fans = fans._replace(
            order=order,
            calling=tuple(ours[place].on for place in order),
            levels=tuple(one.level for one in ours),
        )
    return memory._replace(mode=ModeMemory(Mode.AUTOMATIC, kept.last_known_s), fans=fans)
