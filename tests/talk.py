"""A short note of our own, as text, and its words as a speech model may give them."""

from __future__ import annotations

from reviewer.records import NoteContext, RosterEntry

PLAYER = "74"
OPPONENT = "Calder Stags"

ROSTER = (
    RosterEntry("74", "Wes Tillery", "RT", "own"),
    RosterEntry("65", "Anton Brisco", "RG", "own"),
    RosterEntry("47", "Ned Tilford", "TE", "own"),
    RosterEntry("91", "Dante Orlov", "DE", "opp"),
    RosterEntry("95", "Rex Adair", "EDGE", "opp"),
)

CONTEXT = NoteContext(player=PLAYER, position="RT", opponent=OPPONENT, roster=ROSTER)

TEXT = """\
First and ten, outside zone to his side. Number ninety-one is over him in a five technique. He reaches
him and seals the edge. That's a win.

Next play, second and three, play action. He jump sets ninety-one, gets both hands inside, and when he
bull rushes him he sits down and anchors. That's another win.

Next one. Third and eight, dropback. Number ninety-five is in a wide nine. He oversets and he loses him
inside. The quarterback has to hurry the throw. That's a loss.
"""

ROSTER_CSV = """\
No.,Player,Pos,Side
74,Wes Tillery,RT,own
65,Anton Brisco,RG,own
47,Ned Tilford,TE,own
91,Dante Orlov,DE,opp
95,Rex Adair,EDGE,opp
"""
