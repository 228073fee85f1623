"""Cautions in words, by hazard: what to do, and who decides. Common practice; no local rule is replaced."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One hazard."""

    hazard: str
    """Its key in the catalogue."""
    title: str
    what_to_do: tuple[str, ...]
    """One sentence each."""
    who_decides: str
    """Whose word goes before all that."""


def _catalogue(*cautions: Caution) -> Mapping[str, Caution]:
    return {one.hazard: one for one in cautions}


CAUTIONS: Mapping[str, Caution] = _catalogue(
    Caution(
        "field",
        "The antenna's field",
        (
            "Keep people outside of the marked distance while the transmitter may key, climbers and "
            "people on machines and roofs too: they may be as high as the antenna.",
            "Never touch an antenna or a bare feeder that may be keyed: it burns. Switch the transmitter "
            "off, and see that nobody can switch it on, before working on either.",
            "Never key without the antenna or with a damaged feeder.",
            "People with medical implants ask their doctor before they come near.",
        ),
        "Local law on exposure, the licence, the maker's own distances and a qualified person decide.",
    ),
    Caution(
        "lines",
        "Overhead lines",
        (
            "Look up and around before anything tall is raised, carried or driven, poles and masts lying "
            "down too; look again when the set-up moves.",
            "Lines that are not in the job file exist all the same: look for them, also for buried cables "
            "where stakes are driven.",
            "Never count a line as dead or insulated. If a mast touches one: stay away, keep others away, "
            "and call the line's owner.",
        ),
        "The line's owner, local codes and a qualified person decide on clearances.",
    ),
    Caution(
        "mast",
        "Mast and guys",
        (
            "Keep people, vehicles and roads out of the fall radius while the mast goes up or down.",
            "Guy the mast evenly around in at least three directions; mark guys and anchors so that they are "
            "seen, and keep traffic off them.",
            "Take the mast down before the wind that its maker allows is reached.",
        ),
        "The mast's maker, local codes for raising masts and a qualified person decide.",
    ),
    Caution(
        "lightning",
        "Lightning",
        (
            "Take the mast down before a thunderstorm comes, not in it.",
            "When thunder is heard or lightning seen: leave mast, guys, feeder and tripods, go into a closed "
            "vehicle or a building, and wait there for 30 minutes after the last thunder.",
            "An arrester in the feeder protects equipment, not people.",
        ),
        "Local codes for earthing and lightning protection, and the site's storm rule, decide.",
    ),
    Caution(
        "battery",
        "Batteries and charging",
        (
            "Fuse the battery at its terminal, cover the terminals, and keep metal tools and jewellery off "
            "them.",
            "Charge with the charger meant for the kind of battery, in the open or aired, away from what "
            "burns, and not unattended where the maker forbids it.",
            "Do not use or charge a battery that is swollen, leaking, hot or frozen.",
        ),
        "The battery's maker, and local rules for charging and carriage, decide.",
    ),
    Caution(
        "lifting",
        "Lifting and carrying",
        (
            "Batteries and masts are carried by two people or on wheels; bend the knees, not the back.",
            "Wear shoes and gloves against what falls and pinches.",
        ),
        "The employer's rules for loads decide.",
    ),
    Caution(
        "traffic",
        "Traffic and machines",
        (
            "Set up off the ways of vehicles and out of the blind spots of machines, with a mark that their "
            "drivers see; wear clothing that is seen.",
            "Tell the site manager where the base and its guys stand.",
        ),
        "The site's traffic plan and its manager, on public roads the road authority, decide.",
    ),
    Caution(
        "heat",
        "Heat",
        (
            "Shade radio and battery and leave air around them: a case in the sun gets hotter than the "
            "air, and a radio that is keyed for long gets hot to the touch.",
            "A radio that is too hot lowers its power or stops: corrections then fail where they were "
            "planned.",
            "Carry water and shade for people too.",
        ),
        "The makers' temperature limits and the site's heat rule decide.",
    ),
    Caution(
        "cold",
        "Cold and wet",
        (
            "Cold takes a large part of a battery's capacity: plan a spare.",
            "Ice loads masts and guys, and falls off them: stay away from below.",
            "Keep connectors dry and closed.",
        ),
        "The makers' temperature limits and a qualified person decide.",
    ),
    Caution(
        "unattended",
        "A base that nobody watches",
        (
            "Put a sign on it with a name and a telephone number, and keep others out of the marked circle.",
            "Come back before the battery is empty, before wind or storm, and to check the base point.",
            "Somebody must be able to switch the transmitter off at any time.",
        ),
        "The licence, the owner of the ground and the site manager decide.",
    ),
)
"""By hazard, in the order in which they are shown."""

WHAT_TO_DO: Mapping[str, Caution] = _catalogue(
    Caution(
        "machines",
        "Machines without corrections",
        (
            "Stop rule: when corrections are lost or too old, guidance goes off and the machine stops "
            "where it may; it does not go on by itself.",
            "Cross the gap by hand, slowly, with a person who watches, or work around it.",
            "Do not take up guidance again before the position is checked on a known point.",
            "Or close the gap before work: another place, a higher mast, a repeater (`linkplan site`).",
        ),
        "The machine's maker, the site's safety plan and its manager decide what a machine may do without "
        "guidance.",
    ),
    Caution(
        "people",
        "People without corrections",
        (
            "Stop rule: when corrections are lost or too old, nothing that others rely on is staked or "
            "measured.",
            "Go on by other means, such as a total station from known points, or wait where there are "
            "corrections again and check on a known point first.",
            "Do not take a shown position for a warning of edges, lines or cables.",
        ),
        "The site's safety plan and its manager decide.",
    ),
)
"""By who relies on corrections, as in `siting.zones.relies`."""
