"""Reads a map's wording as open lithology terms, and says what clay such rock weathers to."""

from prospect.rock.corrections import parse_correction, read_rocks
from prospect.rock.evidence import ages_of, evidence_names, evidence_of
from prospect.rock.fitness import Fitness, ParentRock, parent_rocks, roll_up
from prospect.rock.mix import RockMix, coded, mix_of
from prospect.rock.units import describe, unit_table
from prospect.rock.vocabulary import Term, Vocabulary, lithology
from prospect.rock.wording import combine, parse_rock, read_coded

__all__ = [
    "Fitness",
    "ParentRock",
    "RockMix",
    "Term",
    "Vocabulary",
    "ages_of",
    "coded",
    "combine",
    "describe",
    "evidence_names",
    "evidence_of",
    "lithology",
    "mix_of",
    "parent_rocks",
    "parse_correction",
    "parse_rock",
    "read_coded",
    "read_rocks",
    "roll_up",
    "unit_table",
]
