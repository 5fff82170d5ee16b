"""What help says: every label, unit, mark and key of the screen."""

from __future__ import annotations

from tui.keys import ACTIONS

Rows = tuple[tuple[str, str], ...]

SECTIONS: tuple[tuple[str, Rows], ...] = (
    (
        "Mind",
        (
            ("readings", "are an aid, not a certified measurement: they are as good as what the feed says of itself"),
            ("ASSUMED", "nobody said so; if it is wrong, levels are wrong (--range, --matrix, --curve say it)"),
            ("(tag) (asked) (line-up)", "the feed's own tags said so; you did; a line-up that was kept did"),
            ("CURVE NOT SAID", "there are no stops, no headroom and no zones: a curve is never guessed"),
            ("sound", "keep earphones low: alarms come without warning"),
            ("blank", "no figures and no trace: there is no picture to vouch for, and an old one is never shown"),
            ("dim", "figures of a picture that is late or doubtful; the word beside them says which"),
        ),
    ),
    (
        "Top lines",
        (
            ("LIVE ...", "state of the feed: LIVE, LATE, STILL, FROZEN, DARK, SUSPECT, RESHAPED, LOST, WAITING, ENDED"),
            ("picture 0.04 s old", "time since the newest picture arrived"),
            ("25.0 a second", "pictures a second, measured"),
            ("skipped", "pictures that arrived but were not measured, for want of time"),
            ("missing", "pictures that the source counted but never delivered"),
            ("discarded", "pictures refused: malformed, or of an earlier opening of the feed"),
            ("opening no. 3", "the feed has been opened three times since the start"),
            ("link 3.1 fps, 0.6 s", "the way to this terminal is slow: frames drawn a second, delay of what you see"),
        ),
    ),
    (
        "Trace",
        (
            ("LUMA", "level against picture column: left is left in the picture, up is brighter, denser is more of it"),
            ("R G B", "the same for each colour part, side by side, after the matrix of the encoding"),
            ("0 ... 100", "percent of the signal range, as IRE: 0 is black and 100 nominal white of the range"),
            ("clip", "line at the level from which on this signal counts as clipped; brass above it"),
            ("crush", "line at the level under which it counts as crushed; violet below it"),
            ("ceiling, floor", "double line where this camera's signal was found to end, with the share lying on it"),
            ("ceil RG", "found in these parts only, not in luma"),
            (
                "end of range",
                "who says where clipping begins: the signal range, asked by you, a camera profile, "
                "or the ceiling found in the picture",
            ),
            ("╔1╗ ╠╣ ╚╝", "a sitter's columns, from the low to the high level of the skin, notched at its level"),
            ("├─ name ─┤", "a spot: its columns, at its level"),
            ("aim", "dashed lines and the bar beside the scale: where the main sitter should lie"),
            ("PAUSED", "you stopped the trace with space; figures and alarms go on with the newest picture"),
        ),
    ),
    (
        "Sitters",
        (
            (
                "sitter 1",
                "a face found by itself and followed by name; the main one stands in large figures (c chooses)",
            ),
            ("skin", "level of the skin: 70th percentile of luma in the face, IRE"),
            ("44.0-58.3", "10th to 95th percentile of luma in the face"),
            ("+0.6 st", "stops from middle grey, an 18 % card"),
            ("left +0.9", "the left side of the face, as seen, is 0.9 stop brighter than the right"),
            ("▼ 1/3 stop under", "to the middle of the aim, in thirds of a stop; ● for ▼: within the aim"),
            ("aim 45-55", "where skin may lie, IRE; you set it, a complexion is never guessed"),
            ("held", "the face is not found at this moment; its place is read for a second more"),
            ("TOO DARK, CLIPPED", "the face was lost because it went dark or clipped: no level is told"),
            ("no face", "nobody is found, so the middle of the picture stands in its place"),
        ),
    ),
    (
        "Figures",
        (
            ("middle", "half of the picture is darker, half brighter (50th percentile of luma), IRE"),
            ("HEADROOM", "stops between the brightest light that means something and the end of the signal"),
            ("footroom", "stops between the darkest and the last light above the floor or the noise"),
            ("mean", "average luma, IRE"),
            ("low, high", "1st and 99th percentile of luma, IRE; min and max are the very extremes"),
            ("CLIPPED any", "percent of the picture at or above the clip level in luma, R, G or B; Y is luma alone"),
            ("CRUSHED any", "percent of the picture at or below the crush level, likewise"),
            (
                "shadow S/N",
                "signal to noise in the darkest tenth that has signal, stops; noise is its deviation in IRE; "
                "or why it cannot be told",
            ),
            (
                "flicker",
                "beat of lamps on the mains: how often, stops from peak to peak, rolling bands or whole picture",
            ),
            ("safe 50 Hz", "shutter angles at this frame rate that show no beat under lamps on 50 or 60 Hz mains"),
            (
                "R 103",
                "percent outside the preferred signal range of EBU R 103, and whether that is within its 1 %; "
                "estimated: from a part of the pixels",
            ),
            ("–", "not measured; never means zero. <0.01 is little, but not nothing"),
        ),
    ),
    (
        "Picture",
        (
            ("PICTURE", "for the eye, through the viewing transform named beside it, or as the plain signal (v)"),
            ("ZONES", "printed zones 0 to X, a stop each, V is middle grey; the legend stands beneath"),
            ("▲ ▼", "clipped in any part; crushed"),
            ("OUTSIDE AIMS", "only what is clipped, crushed or outside an aim; spots that may clip are left alone"),
            ("╔1╗ ╭name╮", "corners of a sitter; of a spot. ┏ ┓ is the spot that the keys change"),
            (
                "STOPS",
                "how much of the picture lies at how many stops from middle grey; the end of the signal is marked",
            ),
        ),
    ),
    (
        "Spots",
        (
            ("○ watch", "an area that is read: mean level, stops, percent clipped"),
            ("△ let go", "it may clip: a lamp, a window"),
            ("· background", "the ground behind the sitter"),
        ),
    ),
    (
        "Decide",
        (
            ("SET NOW", "what you said is set; small letter a step down, capital a step up; metering never needs it"),
            ("locked", "the plan leaves it as it is (x changes that); you may still say what it is set to"),
            ("WAYS by open-sky", "the policy that is followed; p takes the next one, or lets the picture suggest one"),
            ("for sitter 1", "whom the plan is for: the main sitter, else a spot with an aim; f takes the next"),
            ("now, 1, 2, 3", "how things are, and how each way would make them"),
            ("at least, at most", "light is hidden beyond the clip now, so more is not known; short: least, most"),
            ("depth of field", "more is deeper, in stops of aperture; motion blur: more is open longer, in stops"),
            ("GHOST ▔ ▁", "where the chosen way would bring the upper and the lower edge of the trace; ═ both in one"),
            ("↑ in a ghost", "the edge may lie higher: light is clipped there now. In ASCII: ^ _ = and !"),
            ("◇ ghost", "where the sitter's skin would lie"),
            ("Enter", "you have set the chosen way: it is what is set from now on"),
            ("g", "the ghost stays on the main view as it is, to bring the trace to it; g again takes it away"),
        ),
    ),
    (
        "Beside",
        (
            ("HOLDS", "readings that were kept, the newest first, also of earlier sessions; Enter compares with one"),
            ("NOW AGAINST THE HOLD", "stops the picture lies above the hold, part by part; a bar to the right is more"),
            ("sides", "left side of the face over the right; ratio: skin over background"),
            ("TO MATCH IT", "what to move; in terms of what is set, where you said it"),
            ("k, x", "keep what is read now, and compare with it; forget the picked one for good"),
            (
                "brighter, darker than the hold",
                "drift alarms: they call out when the light leaves a hold that was just kept, or was matched once",
            ),
        ),
    ),
    (
        "Turns",
        (
            ("TURNS", "what changed in the exposure lately, seen in the picture; older ones are in the journal (j)"),
            ("whole picture -2.0", "all by one amount, in stops: ND, ISO, aperture or shutter"),
            ("sitter, background", "one of the two, or both by different amounts: the key light, a cloud, a window"),
            ("part of the picture", "a region, where there is no sitter to tell from the background"),
            ("at least", "clipping or crushing hides part of the change"),
            ("drift +0.8 stops a minute", "slow and going on; and when the brightest part, or a spot, clips"),
            ("cut", "another shot, so that no light can be compared"),
            ("key adds +1.4", "a key was switched: what it adds to sitter and background, ratio of the face's sides"),
        ),
    ),
    (
        "Line-up",
        (
            ("expected, found", "codes of every bar: what the pattern must have in this encoding, and what it has"),
            ("! +43", "a difference beyond the tolerance of two codes of 8 bit (three for colours of an R'G'B' feed)"),
            ("[x]", "the chain is true: every bar lies within the tolerance"),
        ),
    ),
    (
        "Last minutes",
        (
            ("band", "low to high of every second, with the middle in it; a cell is two seconds, newest at the right"),
            ("! ▲ ▼ ╱", "an alarm was on; highlights clipped; shadows crushed; there was no picture"),
        ),
    ),
    (
        "Alarms",
        (
            ("NEW", "on and not acknowledged: the whole line is inverse; press a"),
            ("seen", "acknowledged, and still there"),
            ("was", "gone by itself before anyone acknowledged it; press a"),
            ("quiet", "watching, nothing wrong; only their names"),
            ("latched, to reset", "over, but a reset is still owed: not yet acknowledged, acknowledged"),
            ("shelved, suppr., out", "makes no sound: for a time, because of another alarm, out of service"),
            ("away now", "it comes and goes: it stays on until it has been calm for long"),
            ("bar that changes", "priority one that nobody has seen: bright for a second, plain for a second"),
            ("▲ ▼ ◆", "too bright, too dark, neither; hollow when it is over; ‖ silent, and nothing wrong"),
            ("held", "its picture is missing, so it stays as it was"),
            ("+ notices", "alarms also go to your terminal as notifications; see notify in the settings"),
        ),
    ),
    (
        "Alarms and what happened",
        (
            ("o", "all alarms: the picked one with its value now, its limits, why, and what to do"),
            ("a, A", "you have seen the picked alarm (this rise of it only), or all"),
            ("s, u", "shelve the picked alarm for up to an hour: silent, shown, back by itself; end that early"),
            ("r", "reset a latched alarm"),
            ("x, i", "out of service, with your reason, until you put it back in service"),
            ("j, h", "what happened, the newest first; h in the list of alarms: to this one"),
            ("ahead", "written when the clock was later than it is now"),
        ),
    ),
    ("Keys", tuple((hint.shown, hint.sentence) for hint in ACTIONS)),
)
