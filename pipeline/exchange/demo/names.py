"""Invented names. None is meant to be anybody's; every address ends in ``.example``."""

from __future__ import annotations

from random import Random

PLACES = """Alderwick Brackenfold Corrowell Dunmarra Eskerby Fennimoor Garrowdale Hollinsea
Ivelstow Jarrowmere Kelderby Lorrimoor Marrowgate Netherfen Osterley-Bight Penhallow-Cross Quenby
Rooksay Saltmarrow Tarnholt Umberleigh-Shore Vennacott Wexmoor Yarrowby Zelderhouse""".split()
KINDS = """Foundry|Housing Trust|Seed Library|Harbour Office|Clockworks|Dairy|Language School|
Physiotherapy|Tram Depot|Botanic Rooms|Bakery Union|Choir|Map Archive|Optical Works|Kindergartens|
Water Board|Bicycle Works|Tile Works|Youth Theatre|Ropemakers|Allotments|Paper Mill|Hospice|
Lighthouse Fund""".replace("\n", "").split("|")
FIRST = """Adaeze Bogdan Chiara Dilnoza Eetu Farida Goran Hyun-ju Ignacio Jasleen Kofi Ludmila
Mireia Nikhil Oksana Pádraig Quyên Rosalind Sefa Tomasz Ulrike Vashti Wambui Xiomara Yannick
Zofia""".split()
LAST = """Abernol Brzeska Castellane Delorme-Vay Ekwere Fjordvik Grüneisen Halloran-Pike Ishikawe
Jovanek Kallistrou Lindqvist-Oro Mbatha Nakamori-Lund Oyelaran Petrosyan Quintavalle Rasmund
Szentmary Tavares-Holt Umarova Vanterpool Wójtan Yilmazer Zubiri""".split()
ROLES = ["director", "head of services", "programme lead", "operations", "founder", "product lead"]
CHANNELS = ["call", "e-mail", "meeting", "message"]
ASKED = [
    "Asked what a first workshop costs and who should be in the room.",
    "Has a new board since spring; wants to sort out what to stop doing.",
    "Their waiting list grows and nobody agrees why.",
    "Heard of us at a regional fair; would like to see how we work first.",
    "Is rewriting its grant application and wants a second pair of eyes.",
    "Two departments each have a plan. They don't fit together.",
]
HEARD = [
    "Liked the hour; will show the write-up to the board.",
    "Asked for a smaller first step.",
    "The grant office answers next quarter.",
    "New director; would like to hear the summary again.",
    "Keen, but the year's money is spent.",
]
NO_BUDGET = ["The year's budget is spent.", "Waits for the grant.", "Merger first, money later."]
FUNDING_FROM = ["regional grant", "next year's budget", "a foundation", "sale of a building"]
DECLINED = ["Does it with its own people.", "Chose another supplier.", "The project was stopped."]
TURNED_AWAY = ["Wanted a verdict, not a workshop.", "Outside what we do well."]
QUIET = ["No answer to three letters.", "The contact left; nobody picked it up."]


def slug(text: str) -> str:
    """Return a name as part of an address: ASCII letters, digits and hyphens."""
    plain = text.lower().translate(str.maketrans("áéíóúüöäêñçżóùÿ", "aeiouuoaenczouy"))
    return "".join(c if c.isascii() and c.isalnum() else "-" for c in plain).strip("-")


def organisations(count: int, random: Random) -> list[str]:
    """Return ``count`` different invented organisations."""
    every = [f"{place} {kind}" for place in PLACES for kind in KINDS]
    return random.sample(every, count)


def person(organisation: str, random: Random) -> tuple[str, str]:
    """Return an invented name and address at ``organisation``."""
    first, last = random.choice(FIRST), random.choice(LAST)
    host = slug(organisation)
    return f"{first} {last}", f"{slug(first)}.{slug(last)}@{host}.example"
