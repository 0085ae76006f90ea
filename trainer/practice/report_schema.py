"""Say what stands in every report that programs read: each field once, with its type and its meaning.

The reports are those of ``grade --json`` and ``drill --report`` (:data:`GRADE`), ``checkup --json``
(:data:`CHECKUP`) and ``hands --to`` (:data:`TRUTH`). Passes, bars and slots count from 1, as players do.
Placements are tap minus target, late positive. Seconds count from the first beat of the first pass, save
where a field says otherwise; every interval is for 95 % confidence. ``null`` means that nothing can be said.

A path has a full stop before each inner field and ``[]`` where there is a list; ``{}`` stands for names that
are not fixed.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a report.

    Attributes:
        path: where it stands.
        kinds: what it can be, in the words of JSON: text, number, whole, truth, list, object; and null.
        meaning: what it says.
    """

    path: str
    kinds: str
    meaning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Schema:
    """One kind of report.

    Attributes:
        format: changes when a field changes its meaning or goes away.
        fields: all of them; one whose object is ``null`` is not there.
    """

    format: int
    fields: tuple[Field, ...]


def _group(path: str) -> tuple[Field, ...]:
    """Return the fields of a group of strokes: where its taps sat."""
    return (
        Field(path, "object"),
        Field(f"{path}.taps", "whole", "how many"),
        Field(f"{path}.mean_ms", "number null", "as in the summary"),
        Field(f"{path}.half_interval_ms", "number null", "as in the summary"),
        Field(f"{path}.spread_ms", "number null", "as in the summary"),
        Field(f"{path}.median_ms", "number null", "their middle"),
        Field(f"{path}.robust_spread_ms", "number null", "1.4826 times the median absolute deviation"),
    )


def _later(path: str) -> tuple[Field, ...]:
    return (
        Field(path, "object null", "strokes after a change of chord against their like inside a chord"),
        Field(f"{path}.later_by_ms", "number", "how much later they come"),
        Field(f"{path}.half_interval_ms", "number"),
        Field(f"{path}.probability", "number", "of so much when there is no difference"),
        Field(f"{path}.n", "whole", "how many"),
        Field(f"{path}.n_other", "whole", "how many they are compared with"),
    )


def _louder(path: str, meaning: str) -> tuple[Field, ...]:
    return (
        Field(path, "object null", meaning),
        Field(f"{path}.louder_by", "number", "in steps of velocity"),
        Field(f"{path}.half_interval", "number"),
        Field(f"{path}.probability", "number", "of so much when there is no difference"),
        Field(f"{path}.n", "whole"),
        Field(f"{path}.n_other", "whole"),
    )


_BREAKDOWN = (
    Field("breakdown", "object"),
    Field("breakdown.by_kind", "list"),
    *_group("breakdown.by_kind[]"),
    Field("breakdown.by_kind[].kind", "text", "the kind of stroke"),
    Field("breakdown.by_string", "list", "strokes on one string"),
    *_group("breakdown.by_string[]"),
    Field("breakdown.by_string[].string", "whole", "1 to 5"),
    Field("breakdown.by_bar", "list"),
    *_group("breakdown.by_bar[]"),
    Field("breakdown.by_bar[].bar", "whole"),
    *_group("breakdown.after_skip"),
    *_group("breakdown.elsewhere"),
    Field("breakdown.gaps", "object", "from the tap before each skip to the tap after it"),
    Field("breakdown.gaps.n", "whole", "how many have a tap at either end"),
    Field("breakdown.gaps.mean_share", "number null", "length as a share of the length asked; 1 as asked"),
    Field("breakdown.gaps.half_interval", "number null", "of that share"),
    Field("breakdown.gaps.spread", "number null", "its standard deviation"),
    Field("breakdown.gaps.median_share", "number null", "the middle one"),
    Field("breakdown.drift", "object null"),
    Field("breakdown.drift.ms_per_minute", "number", "positive when falling behind"),
    Field("breakdown.drift.half_interval_ms_per_minute", "number"),
    Field("breakdown.drift.moved_ms", "number", "from first to last stroke"),
    Field("breakdown.drift.probability", "number", "of so much without a drift, 0 to 1"),
    Field("breakdown.dynamics", "object null", "null where the input knows no loudness"),
    *_louder("breakdown.dynamics.accents", "accented against unaccented strokes"),
    *_louder("breakdown.dynamics.strikes", "strikes against brushes"),
    Field("breakdown.changes", "object null", "null for a pattern without changes of chord"),
    *_group("breakdown.changes.after"),
    *_group("breakdown.changes.inside"),
    *_later("breakdown.changes.difference"),
    Field("breakdown.changes.each", "list", "each change that was reached"),
    *_group("breakdown.changes.each[]"),
    Field("breakdown.changes.each[].from", "text", "the chord before, in numbers"),
    Field("breakdown.changes.each[].to", "text", "the chord after"),
    Field("breakdown.changes.each[].bar", "whole"),
    Field("breakdown.changes.each[].beat", "whole", "of the pattern, from 1"),
    *_later("breakdown.changes.each[].difference"),
    Field(
        "breakdown.changes.worst", "whole null",
        "place in each, from 0, of the change that costs most; null when none is late. Being the largest of "
        "several it looks larger than it is; the advice names it only when it stands",
    ),
    Field("breakdown.swing_played", "object null"),
    Field("breakdown.swing_played.ratio", "number", "long to short"),
    Field("breakdown.swing_played.low", "number", "lower end of its interval"),
    Field("breakdown.swing_played.high", "number", "upper end of its interval"),
    Field("breakdown.swing_played.pairs", "whole", "of how many up taps"),
    Field("breakdown.swing_played.adopted", "number null", "the swing that a target can take over"),
    Field(
        "breakdown.two_levels", "object",
        "timekeeper and hand: with a click by linear phase correction, with the click off by the model of "
        "Wing and Kristofferson, which knows no correction",
    ),
    Field("breakdown.two_levels.clock_sd_ms", "number null", "standard deviation per slot"),
    Field("breakdown.two_levels.motor_sd_ms", "number null", "standard deviation per slot"),
    Field("breakdown.two_levels.correction", "number null", "share of a deviation that is made good next"),
    Field("breakdown.two_levels.lag1", "number null", "autocorrelation"),
    Field("breakdown.two_levels.n", "whole", "taps or pairs used"),
    Field("breakdown.two_levels.cannot_split", "text null", "why none of these can be said"),
)  # fmt: skip

# Since 2 the strokes are judged under the reading, and another figure's strokes stand where it was played.
GRADE = Schema(format=2, fields=(
    Field("format", "whole"),
    Field("pattern", "text", "the pattern's name"),
    Field("title", "text", "its title"),
    Field("source", "text", "where the taps came from: the name of the take's file, or the input"),
    Field("bpm", "number null", "beats a minute; null when the tempo changes"),
    Field("passes", "whole", "how often the pattern was asked"),
    Field("pocket", "text", "name of the pocket"),
    Field("swing", "number", "long to short of a pair of slots, 1 for straight"),
    Field("offset_s", "number", "second of the source at which beat 0 lies"),
    Field(
        "placed_by", "text null",
        "what strokes that a microphone heard were placed against: click, or delay (the one that is kept)",
    ),
    Field("hand_known", "truth", "whether any tap told which hand it came from"),
    Field("reading", "object null", "how the take was played as a whole; all below is judged under it"),
    Field(
        "reading.kind", "text",
        "as asked, swung, early, late, a slot (beat, bar) early or late, two bars early or late, other "
        "tempo, half time, double time, drifting tempo, a bar dropped, a bar repeated, lost the place, begun "
        "late, stopped early, pads exchanged, one hand only, another figure, nothing fits, nothing played",
    ),
    Field("reading.sentence", "text", "what to say to the player, before all else"),
    Field(
        "reading.amount", "number null",
        "how much, late positive; null where the kind has no size. For as asked it is what all placements "
        "have in common, where that is steady and worth a word",
    ),
    Field(
        "reading.unit", "text",
        "ms, slots, beats, bars, beats a minute (the tempo played), to 1 (the swing played), taps a second, "
        "or empty",
    ),
    Field(
        "reading.margin", "number null",
        "nats (natural log odds) by which it is better than the next best reading; below zero where what was "
        "asked is kept although another fits a little better",
    ),
    Field("reading.also", "list", "further kinds that hold with it"),
    Field("reading.also[]", "text"),
    Field("reading.figure", "text null", "name of the figure played; null for the one that was asked"),
    Field("strokes", "list", "one for each stroke asked, rests left out, in the pattern's order"),
    Field("strokes[]", "object"),
    Field("strokes[].pass", "whole"),
    Field("strokes[].bar", "whole"),
    Field("strokes[].slot", "whole"),
    Field("strokes[].kind", "text", "strike, brush, thumb, drop-thumb, skip, hammer-on, pull-off or slide"),
    Field("strokes[].string", "whole null", "1 to 5, for a brush the first met; null for a skip"),
    Field("strokes[].expected_s", "number", "where the reading expects it, swing included"),
    Field("strokes[].tapped_s", "number null", "second of the tap given to it, null without one"),
    Field("strokes[].placement_ms", "number null", "tapped_s less expected_s, null without a tap"),
    Field("strokes[].pocket_ms", "number", "half-width of the pocket"),
    Field(
        "strokes[].verdict", "text",
        "in time, early, late, missed, wrong hand, wrong string, kept silent, touched, not judged",
    ),
    Field("strokes[].rushed_gap", "truth", "early because the silent gap before it was cut short"),
    Field("strays", "list", "one for each tap that no stroke asked for"),
    Field("strays[]", "object"),
    Field("strays[].tapped_s", "number"),
    Field("strays[].hand", "text null", "nail, thumb or left"),
    Field("strays[].string", "whole null", "1 to 5"),
    Field("strays[].velocity", "whole null", "1 to 127"),
    Field("summary", "object"),
    Field("summary.asked", "whole", "strokes and skips that could be judged"),
    Field("summary.clean", "whole", "those in time or kept silent"),
    Field("summary.clean_share", "number null", "clean as a share of asked, 0 to 1"),
    Field("summary.counts", "object", "how often each verdict was given, by verdict, stray among them"),
    Field("summary.counts{}", "whole"),
    Field("summary.taps", "whole", "taps given to strokes that should sound"),
    Field("summary.mean_ms", "number null", "their mean placement"),
    Field("summary.half_interval_ms", "number null", "the mean is within this; null below three taps"),
    Field("summary.spread_ms", "number null", "their standard deviation; null below three taps"),
    Field("summary.rushed_gaps", "whole", "how many strokes had a rushed gap"),
    Field("advice", "list", "at most three, the most limiting first"),
    Field("advice[]", "object"),
    Field("advice[].fault", "text", "what was found, in a few words"),
    Field("advice[].sentence", "text", "what to say to the player"),
    Field("advice[].kind", "text null", "the kind of stroke concerned, null for all"),
    Field("advice[].change", "text null", "the change of chord that costs most, as from 1 to 4 in bar 5"),
    Field("advice[].size_ms", "number null", "how large, late positive; null for a count"),
    Field("advice[].half_interval_ms", "number null", "null where there is none"),
    Field("advice[].hits", "whole", "how often"),
    Field("advice[].n", "whole", "of how many strokes, or of how many taps the size was taken"),
    Field("advice[].probability", "number", "of this or more in a player without the fault, 0 to 1"),
    *_BREAKDOWN,
))  # fmt: skip

# Only in `drill --report`, besides.
DEVICES = (
    Field("devices", "object"),
    Field("devices.input", "text", "what was tapped on"),
    Field("devices.sound", "text", "what was heard, in words"),
    Field("devices.taps_received", "whole", "from the count-in to the end"),
    Field("devices.not_graded", "text", "why the take does not count, or empty"),
    Field("devices.remarks", "list", "sentences about the devices during the take"),
    Field("devices.remarks[]", "text"),
)

TRUTH = Schema(format=1, fields=(
    Field("format", "whole"),
    Field("pattern", "text", "what was asked"),
    Field("bpm", "number"),
    Field("passes", "whole"),
    Field("swing", "number"),
    Field("seed", "whole", "of the chance"),
    Field("offset_s", "number", "second of the take's file at which beat 0 lies"),
    Field("faults", "object", "what was asked of the player, named as in trainer.practice.hands.Faults"),
    Field("faults.lean_ms", "object", "by kind of stroke"),
    Field("faults.lean_ms{}", "number"),
    *(Field(f"faults.{name}_ms", "number")
      for name in ("jitter", "rush_gap", "clock_sd", "motor_sd", "late_change")),
    *(Field(f"faults.{name}", "number")
      for name in ("correction", "drift", "speed_up", "touch_skips", "miss", "stray", "wrong_hand",
                   "double")),
    Field("faults.one_pad", "truth"),
    Field("strokes", "list", "one for each slot, rests left out"),
    Field("strokes[]", "object"),
    Field("strokes[].pass", "whole"),
    Field("strokes[].bar", "whole"),
    Field("strokes[].slot", "whole"),
    Field("strokes[].kind", "text"),
    Field("strokes[].expected_s", "number"),
    Field("strokes[].tapped_s", "number null"),
    Field("strokes[].placement_ms", "number null"),
    Field("strokes[].deed", "text", "played, missed, kept silent, touched or not heard"),
    Field("strokes[].rushed", "truth", "whether the rush after a skip was put into it"),
    Field("strokes[].late_change", "truth", "the same of the lateness after a change of chord"),
    Field("taps", "list", "one for each tap, in order of time"),
    Field("taps[]", "object"),
    Field("taps[].tapped_s", "number"),
    Field("taps[].hand", "text null"),
    Field("taps[].string", "whole null"),
    Field("taps[].velocity", "whole null"),
    Field("taps[].cause", "text", "stroke, touch, stray or double"),
    Field("taps[].stroke", "whole null", "place in strokes, from 0; null for a stray"),
    Field("taps[].wrong_hand", "truth", "whether the other hand made the stroke"),
))  # fmt: skip

# A part that could not be measured has `not_measured` and nothing else.
CHECKUP = Schema(format=1, fields=(
    Field("format", "whole"),
    Field("verdict", "text", "the sentence in short"),
    Field("seconds", "number", "how long it took"),
    Field("pads_ms", "whole null", "how finely a tap on a pad can be judged"),
    Field("keys_ms", "whole null", "how finely a tap on a key can be judged"),
    Field("sound_steady", "truth null"),
    Field("picture_steady", "truth null"),
    *(Field(f"{part}{inner}", kinds, "a sentence that says why" if inner else "")
      for part in ("frames", "looks", "sound", "midi")
      for inner, kinds in (("", "object"), (".not_measured", "text"))),
    Field("frames.width", "whole", "pixels"),
    Field("frames.height", "whole", "pixels"),
    Field("frames.drawn", "whole", "frames of a drill in a window"),
    Field("frames.per_second", "number", "how many"),
    *(Field(f"frames.{name}_ms", "number", "from one frame to the next")
      for name in ("median", "p99", "longest")),
    Field("frames.late", "whole", "that came more than two frame times after they were due"),
    Field("looks.n", "whole", "the times between two looks at the event queue, in which keys are hidden"),
    *(Field(f"looks.{name}_ms", "number") for name in ("median", "p99", "longest")),
    Field("looks.scan_ms", "number", "what the keyboard itself is taken to add"),
    Field("sound.blocks", "whole", "how many the device began, those of the first two seconds left out"),
    *(Field(f"sound.off_{name}_ms", "number", "how far from the line through all a block was seen to begin")
      for name in ("p99", "longest")),
    Field("sound.stalls", "whole", "how often the sound stopped"),
    Field("sound.speed_error", "number", "the device's, as a share, slower is positive"),
    Field("midi.sent", "whole", "notes sent out of one port and heard through another, on this machine"),
    Field("midi.heard", "whole"),
    Field("midi.way_median_ms", "number", "from sending to stamp, which calibration takes off"),
    *(Field(f"midi.off_{name}_ms", "number", "how far the stamps lie from that")
      for name in ("p99", "longest")),
    Field("midi.taken_off", "number", "share of the stamps that the driver's own times made better"),
))  # fmt: skip
