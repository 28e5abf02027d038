"""What a case may be at most, so that its arrays fit in memory."""

from optibuild.errors import TooLarge

MOST_PLACES = 3000
MOST_MINUTES = 20_000_000
"""Ways are kept between all places, and minutes for every crewed build, clock and stop, in about eight arrays
of eight bytes each: 1.3 GB at most."""
MINUTES_AT_ONCE = 8_000_000
"""Minutes of the builds that are compared at a time: a plan needs only those that no other beats."""


def check_places(count: int) -> None:
    """TooLarge where the ways between so many depots and sites would not fit."""
    if count > MOST_PLACES:
        raise TooLarge(f"the case has {count:,} depots and sites, and at most {MOST_PLACES:,} can be planned "
                       "at once: divide it into regions")


def check_minutes(builds: int, clocks: int, stops: int) -> None:
    """TooLarge where the minutes of so many crewed builds, clocks and stops would not fit."""
    if builds * clocks * stops > MOST_MINUTES:
        raise TooLarge(f"{builds:,} builds at depots, {clocks:,} clocks and {stops:,} stops make "
                       f"{builds * clocks * stops:,} service times, and at most {MOST_MINUTES:,} fit: leave "
                       "items out, raise assumptions.tau_step, lower assumptions.most_parcels, or divide the "
                       "case into regions")
