#!/usr/bin/env python3
"""Make the sample season again, the same to the last byte: 12 games, 800 grade rows.

Everything in it is invented. Four things are built in for the reports to find: the left tackle (74)
loses to the bull rush out of a vertical set and wins with the 45-degree set; he bends at the waist
less and less; the right tackle (78) oversets to the inside counter; number 63 changes hands after
the sixth game. About one row in ten was first read otherwise than the coach settled it; a few rows of each
game, and the whole last game, he has not settled yet.

    python shared/season/make.py            # writes into the folder it lies in
"""

from __future__ import annotations

import csv
import json
import random
from datetime import date, timedelta
from pathlib import Path
from typing import Any

Man = tuple[str, str, str]
"""A defender: jersey, name, position."""

Play = dict[str, Any]
"""A line of a play list, by its headings."""

HERE = Path(__file__).parent
TEAM = "Tarn Hollow"
SEASON = "2031"
ROWS = 800

OWN = [
    ("74", "Halvard Quist", "LT", "", ""),
    ("66", "Ignace Bellot", "LG", "", ""),
    ("55", "Mattis Overlund", "C", "", ""),
    ("63", "Corwin Tabbert", "RG", "", "2031-10-12"),
    ("63", "Dashiell Runkle", "RG", "2031-10-13", ""),
    ("78", "Emeka Stavros", "RT", "", ""),
    ("85", "Lucan Fairholt", "TE", "", ""),
    ("24", "Joris Penhallow", "RB", "", ""),
    ("12", "Anselm Gray-Ito", "QB", "", ""),
    ("71", "Pavle Drummond", "OT", "", ""),
]
OPPONENTS = [
    "Calder Falls",
    "Ebbing Point",
    "Norwick Tech",
    "Salt Meadow",
    "Upper Larch",
    "Ferrous Bay",
    "Dunmere State",
    "Oxpasture",
    "Halden Ridge",
    "Pinder Creek",
    "Wexmoor",
    "Stillwater Quay",
]
FIRST = [
    "Ade",
    "Bo",
    "Cyr",
    "Dov",
    "Eli",
    "Fenn",
    "Gus",
    "Hob",
    "Ira",
    "Jem",
    "Kip",
    "Lev",
    "Moss",
    "Ned",
    "Oz",
    "Pim",
    "Ruel",
    "Sol",
    "Tad",
    "Ugo",
    "Vin",
    "Wes",
]
LAST = [
    "Arkwell",
    "Brandle",
    "Corvane",
    "Dussan",
    "Elmgreen",
    "Fosk",
    "Garrick-Vane",
    "Hollis-Ude",
    "Imber",
    "Jasko",
    "Kettel",
    "Lomax-Pry",
    "Murrin",
    "Nokes",
    "Orrin-Tal",
    "Pedley",
    "Quarle",
    "Rusk",
    "Sabine-Orr",
    "Tolk",
    "Umber",
    "Vasey",
]
SPOTS = [("DE", 90, 99), ("DT", 90, 99), ("NT", 90, 99), ("DE", 90, 99), ("OLB", 40, 59), ("ILB", 40, 59)]

SETS = {
    "vertical": "vertical set",
    "45-degree": "forty-five degree set",
    "jump": "jump set",
    "quick": "quick set",
}
MOVES = {
    "bull rush": "he bulls him",
    "speed rush": "it's pure speed around the edge",
    "long arm": "he gives him the long arm",
    "swim": "he swims",
    "inside counter": "he counters back inside",
    "spin": "he spins",
    "cross chop": "he goes cross chop",
    "rip": "he dips and rips",
}
GAMES = {
    "T-E stunt": "they run the T-E stunt",
    "E-T stunt": "they run the E-T stunt",
    "blitz": "they blitz off the edge",
}
PASS_TECHNIQUES = {
    "punch": "good punch",
    "anchor": "he sits down and anchors",
    "mirror": "he mirrors him",
    "hand reset": "he resets his hands",
    "independent hands": "independent hands",
    "kick slide": "smooth kick slide",
    "pass off": "passes it off clean",
}
RUN_TECHNIQUES = {
    "reach": "he reaches him",
    "combo": "good double team",
    "climb": "climbs to the backer",
    "down block": "down block",
    "pull": "he pulls",
    "seal": "seals him",
    "drive": "runs his feet",
    "pad level": "he's low",
    "cut off": "cuts him off",
}
FAULTS = {
    "waist bend": "he bends at the waist",
    "overset": "he oversets",
    "lunge": "he lunges",
    "high pads": "he's too high",
    "wide hands": "his hands are wide",
    "late hands": "his hands are late",
    "feet stop": "his feet stop",
    "soft edge": "soft edge there",
    "false step": "false step",
}
RUNS = {
    "inside zone": "inside zone",
    "outside zone": "outside zone",
    "power": "power",
    "counter": "counter",
    "duo": "duo",
}
PASSES = {
    "dropback": "dropback",
    "quick game": "quick game",
    "play action": "play action",
    "screen": "screen",
}
ALIGNMENTS = {
    "LT": {"5": "five", "wide 9": "wide nine", "7": "seven"},
    "RT": {"5": "five", "9": "nine", "6": "six"},
    "LG": {"3": "three", "2i": "two i"},
    "RG": {"3": "three", "4i": "four i"},
    "C": {"0": "zero", "1": "one"},
}
GOOD_EVENTS = {"knockdown": "pancakes him", "key block": "that's the key block"}
BAD_EVENTS = {
    "pressure": "gives up a pressure",
    "hurry": "that's a hurry",
    "sack": "gives up the sack",
    "quarterback hit": "quarterback gets hit",
}
TECHNIQUE_MARKS = {"+": "technique's clean", "-": "technique's poor"}
READ_SHORT = ("techniques", "faults", "moves", "alignment", "opponents", "finish", "technique", "concepts")
"""Fields whose words the machine now and then passes over, as a first reading does."""
SEEN_AS = {"win": "neutral", "loss": "neutral", "neutral": "win"}
"""A verdict, and what it is most often taken for."""
VERDICTS = {
    "win": ["that's a win", "plus", "love it"],
    "loss": ["that's a loss", "minus", "not good enough"],
    "neutral": ["a wash"],
}
ORDINAL = {1: "First", 2: "Second", 3: "Third", 4: "Fourth"}
ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def spoken(number: int) -> str:
    """A number under a hundred as spoken."""
    if number < 20:
        return ONES[number]
    tens = TENS[number // 10 - 2]
    return f"{tens}-{ONES[number % 10]}" if number % 10 else tens


def main() -> None:
    """Write the whole season."""
    dice = random.Random(2031)
    names = [f"{a} {b}" for a in FIRST for b in LAST]
    dice.shuffle(names)
    fronts = {team: front(dice, names) for team in OPPONENTS}
    days = [date(2031, 9, 5) + timedelta(days=7 * week) for week in range(12)]
    write_rosters(fronts)
    write_games(days)
    left = ROWS
    for number, (team, day) in enumerate(zip(OPPONENTS, days, strict=True), 1):
        wanted = left // (len(OPPONENTS) - number + 1)
        left -= wanted
        plays = make_plays(dice)
        write_plays(number, team, plays)
        # dice of their own, so that what is added here leaves the talk above as it is
        more = random.Random(SEASON + team)
        write_note(dice, more, number, team, day, plays, fronts[team], wanted)


def front(dice: random.Random, names: list[str]) -> list[Man]:
    """Six defenders: jersey, name, position; no number twice."""
    men: list[Man] = []
    for position, low, high in SPOTS:
        taken = {jersey for jersey, _, _ in men}
        jersey = dice.choice([str(n) for n in range(low, high + 1) if str(n) not in taken])
        men.append((jersey, names.pop(), position))
    return men


def slug(team: str) -> str:
    return team.lower().replace(" ", "-")


def write_csv(path: Path, header: list[str], rows: list[list[Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([header, *rows])


def write_rosters(fronts: dict[str, list[Man]]) -> None:
    write_csv(HERE / "roster.csv", ["No.", "Player", "Pos", "From", "To"], [list(man) for man in OWN])
    rows: list[list[Any]] = [[team, *man] for team, men in fronts.items() for man in men]
    write_csv(HERE / "roster-opponents.csv", ["Team", "No.", "Player", "Pos"], rows)


def write_games(days: list[date]) -> None:
    places = ["home", "away"] * 6
    rows: list[list[Any]] = [
        [day.isoformat(), team, place, "college", SEASON]
        for day, team, place in zip(days, OPPONENTS, places, strict=True)
    ]
    write_csv(HERE / "games.csv", ["Date", "Opponent", "Place", "Level", "Season"], rows)


def make_plays(dice: random.Random) -> list[Play]:
    """About sixty snaps of our offence, as a play list has them."""
    plays: list[Play] = []
    quarter, clock, film = 1, 900, 40.0
    down, distance, spot = 1, 10, 25
    while quarter < 5:
        run = dice.random() < (0.6 if distance <= 3 else 0.42)
        concept = dice.choice(list(RUNS if run else PASSES))
        gain = max(-6, round(dice.gauss(4.2 if run else 6.0, 5.5)))
        gain = min(gain, 100 - spot)
        result = outcome(dice, run, gain, spot)
        plays.append(
            {
                "Play": len(plays) + 1,
                "Qtr": quarter,
                "Clock": f"{clock // 60}:{clock % 60:02}",
                "Dn": down,
                "Dist": "Goal" if spot + distance >= 100 else distance,
                "Yd Line": f"-{spot}" if spot < 50 else str(100 - spot),
                "Type": "Run" if run else "Pass",
                "Concept": concept,
                "Gain": gain,
                "Result": result,
                "Film": f"{int(film) // 60:02}:{int(film) % 60:02}.{int(film * 10) % 10}",
            }
        )
        film += dice.uniform(9, 16)
        clock -= dice.randint(24, 42)
        if clock <= 0:
            quarter, clock = quarter + 1, 900
        if result in ("Touchdown", "Turnover") or (down == 4 and gain < distance):
            down, distance, spot = 1, 10, dice.choice([20, 25, 25, 31, 44])
            film += dice.uniform(60, 200)
        elif gain >= distance:
            down, distance, spot = 1, 10, spot + gain
        else:
            down, distance, spot = down + 1, distance - gain, max(2, spot + gain)
    return plays


def outcome(dice: random.Random, run: bool, gain: int, spot: int) -> str:
    if spot + gain >= 100:
        return "Touchdown"
    if dice.random() < 0.02:
        return "Turnover"
    if run:
        return "Rush" if gain > 0 else "No gain" if gain == 0 else "Loss"
    return "Sack" if gain < -3 else "Incomplete" if gain <= 0 else "Complete"


def write_plays(number: int, team: str, plays: list[Play]) -> None:
    write_csv(
        HERE / "plays" / f"{number:02}-{slug(team)}.csv", list(plays[0]), [list(p.values()) for p in plays]
    )


class Talk:
    """What is said of one man on one snap, and the row that the words give."""

    def __init__(self, dice: random.Random, more: random.Random) -> None:
        self.dice = dice
        self.more = more
        self.row: dict[str, Any] = {}
        self.words: list[str] = []
        self.said: dict[str, list[str]] = {}

    def say(self, words: str, field: str = "", value: Any = None) -> None:
        """Say something; with a field, the row has the value because of these words."""
        self.words.append(words)
        if field:
            self.row[field] = value
            self.said.setdefault(field, []).append(words)

    def choose(self, field: str, terms: dict[str, str], lead: str = "") -> str:
        """Say one of the terms, as a list of one."""
        name = self.dice.choice(list(terms))
        self.say(lead + terms[name], field, [name])
        return name


def write_note(
    dice: random.Random,
    more: random.Random,
    number: int,
    team: str,
    day: date,
    plays: list[Play],
    men: list[Man],
    wanted: int,
) -> None:
    """One spoken note: 20 to 24 snaps of the game, three men or so on each."""
    head = {
        "title": f"{team}, line, game {number}",
        "team": TEAM,
        "season": SEASON,
        "date": day.isoformat(),
        "opponent": team,
        "confirmed": number < 12,
    }
    lines: list[dict[str, Any]] = [head]
    time = 6.5
    snaps = sorted(dice.sample(range(len(plays)), wanted // 3))
    for rep, snap in enumerate(snaps, 1):
        own = ["74", "78", dice.choice(["66", "55", "63"])]
        if rep == len(snaps):
            own = ["74", "78", "66", "55", "63"][: 3 + wanted % 3]
        block = snap_block(dice, more, number, plays[snap], men, own)
        length = len(block["text"].split()) / dice.uniform(2.4, 2.9)
        lines.append({"rep": rep, "start": round(time, 2), "end": round(time + length, 2), **block})
        time += length + dice.uniform(2.0, 6.0)
    assert sum(len(line.get("rows", ())) for line in lines) == wanted
    path = HERE / "notes" / f"{number:02}-{slug(team)}.jsonl"
    path.write_text("".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines), "utf-8")


def snap_block(
    dice: random.Random, more: random.Random, game: int, play: Play, men: list[Man], own: list[str]
) -> dict[str, Any]:
    goal = play["Dist"] == "Goal"
    opening = f"{ORDINAL[play['Dn']]} and {'goal' if goal else spoken(play['Dist'])}"
    situation = {
        "down": play["Dn"],
        **({"goal_to_go": True} if goal else {"distance": play["Dist"]}),
        "phase": play["Type"].lower(),
        "concepts": [play["Concept"]],
    }
    results = {"Rush": "gain", "No gain": "no gain", "Loss": "loss"}
    text, rows = [f"{opening}, {play['Concept']}."], []
    for jersey in own:
        talk = man(Talk(dice, more), game, jersey, play["Type"] == "Run", men)
        words = ", ".join(talk.words)
        text.append(words[0].upper() + words[1:] + ".")
        row = {"player": jersey, **situation, **talk.row}
        row["play_result"] = results.get(play["Result"], play["Result"].lower())
        said = {"down": [opening], "concepts": [play["Concept"]], **talk.said}
        said["goal_to_go" if goal else "distance"] = [opening]
        rows.append({"row": row, "said": said, **settled(more, row, game < 12)})
    return {"play": play["Play"], "text": " ".join(text), "rows": rows}


def settled(more: random.Random, row: dict[str, Any], confirmed: bool) -> dict[str, Any]:
    """How sure the first reading was of a row, where it was not; what it read otherwise than the coach
    settled it ("first"); and whether he has not settled it yet ("settled": false)."""
    if more.random() < 0.8:
        return {}
    doubt = {"confidence": round(more.uniform(0.32, 0.78), 2)}
    if not confirmed:
        return doubt
    if more.random() < 0.15:
        return {**doubt, "settled": False}
    return {**doubt, "first": read_first(more, row)} if more.random() < 0.65 else doubt


def read_first(more: random.Random, row: dict[str, Any]) -> dict[str, Any]:
    """One or two fields as the machine read them before the coach put them right."""
    roll = more.random()
    if roll < 0.3:
        return {"verdict": SEEN_AS[row["verdict"]]}
    if roll < 0.4 and row.get("distance", 0) > 3:
        return {"distance": row["distance"] - 1}
    there = [field for field in READ_SHORT if row.get(field)]
    missed = more.sample(there, min(len(there), 1 + (more.random() < 0.25)))
    return {field: [] if isinstance(row[field], list) else None for field in sorted(missed)}


def man(talk: Talk, game: int, jersey: str, run: bool, men: list[Man]) -> Talk:
    """One man's snap: the words and the row, with the season's built-in habits."""
    dice = talk.dice
    talk.row["position"] = next(p for j, _, p, *_ in OWN if j == jersey)
    over = dice.choice(men[:4])
    talk.say(spoken(int(jersey)), "player", jersey)
    talk.words[-1] += f" on {spoken(int(over[0]))}"
    talk.row["opponents"] = [over[0]]
    talk.said["opponents"] = [spoken(int(over[0]))]
    chance = run_details(talk) if run else pass_details(talk)
    chance += 0.012 * (game - 6) if jersey == "74" else 0
    roll = dice.random()
    verdict = "win" if roll < chance else "neutral" if roll < chance + 0.1 else "loss"
    judge(talk, game, run, verdict)
    return talk


def run_details(talk: Talk) -> float:
    side = talk.dice.choice(["playside", "backside"])
    talk.say(f"he's on the {side[:4]} side", "side", side)
    return 0.64


def pass_details(talk: Talk) -> float:
    """What he faces and how he sets; returns his chance to win."""
    dice, jersey, position = talk.dice, talk.row["player"], talk.row["position"]
    pass_set = ""
    if position in ("LT", "RT"):
        pass_set = dice.choice(["vertical", "vertical", "45-degree", "jump", "quick"])
        talk.say(SETS[pass_set], "set", pass_set)
    if dice.random() < 0.55:
        where = dice.choice(list(ALIGNMENTS[position]))
        talk.say(f"he's in a {ALIGNMENTS[position][where]} technique", "alignment", where)
    if dice.random() < 0.15:
        talk.choose("games", GAMES)
        return 0.6
    move = talk.choose("moves", MOVES)
    if jersey == "74" and (pass_set, move) == ("vertical", "bull rush"):
        return 0.30
    if jersey == "74" and pass_set == "45-degree":
        return 0.78
    if jersey == "78" and move == "inside counter":
        return 0.28
    return 0.63


def judge(talk: Talk, game: int, run: bool, verdict: str) -> None:
    """Technique, fault, marks, events and the verdict's own words."""
    dice, row = talk.dice, talk.row
    if verdict != "loss" or dice.random() < 0.3:
        talk.choose("techniques", RUN_TECHNIQUES if run else PASS_TECHNIQUES)
    if verdict == "loss" and dice.random() < 0.85:
        terms = FAULTS
        if row["player"] == "74" and dice.random() < 0.85 - 0.07 * game:
            terms = {"waist bend": FAULTS["waist bend"]}
        if row["player"] == "78" and row.get("moves") == ["inside counter"]:
            terms = {"overset": FAULTS["overset"]}
        talk.choose("faults", terms, "but ")
    if dice.random() < 0.35:
        right = verdict != "loss" or dice.random() < 0.5
        talk.say("assignment's right" if right else "wrong man", "assignment", "+" if right else "-")
    if talk.more.random() < 0.3:
        mark = "+" if talk.more.random() < {"win": 0.95, "neutral": 0.5, "loss": 0.1}[verdict] else "-"
        talk.say(TECHNIQUE_MARKS[mark], "technique", mark)
    if dice.random() < 0.25:
        good = verdict == "win"
        talk.say("finishes it" if good else "no finish", "finish", "+" if good else "-")
    event(talk, run, verdict)
    talk.say(dice.choice(VERDICTS[verdict]), "verdict", verdict)


def event(talk: Talk, run: bool, verdict: str) -> None:
    """Now and then something to count, and a clip to keep."""
    dice = talk.dice
    if verdict == "win" and dice.random() < 0.09:
        talk.choose("events", GOOD_EVENTS)
    elif verdict == "loss" and not run and dice.random() < 0.4:
        talk.choose("events", BAD_EVENTS)
    elif verdict == "loss" and dice.random() < 0.06:
        talk.say("and he holds", "events", ["holding"])
    else:
        return
    if dice.random() < 0.3:
        label = "highlight" if verdict == "win" else "teach"
        talk.say("clip that one" if verdict == "win" else "we'll teach off that", "labels", [label])


if __name__ == "__main__":
    main()
