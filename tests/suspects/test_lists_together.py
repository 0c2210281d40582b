"""What leaves open whether a code is set is the same for all lists of a job."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.suspects.codes import RULE_WRONG, SHOWN, SHOWN_IF_WRONG, SPURIOUS
from backprobe.suspects.coin import coin
from backprobe.suspects.factor import ListFactor, RuleFactor

YES, NO = SHOWN / SHOWN_IF_WRONG, SPURIOUS / SHOWN_IF_WRONG


def shown(*chances: float) -> ListFactor:
    """A list that shows the code, by the chance that it is set under every defect."""
    chance = np.array(chances)[:, None]
    ratio = chance * YES + (1.0 - chance) * NO
    rule = RuleFactor(present=ratio, gone=ratio, past=None, ends=(YES, NO))
    return ListFactor(finding="f", unit="U", rules={"157/4": rule})


def doubted(ratio: float) -> float:
    return (1.0 - RULE_WRONG) * ratio + RULE_WRONG


@pytest.mark.parametrize("times", [1, 2, 9])
def test_the_same_list_again_and_again_speaks_no_more_against_a_severity_than_once(
    times: int,
) -> None:
    """By hand: set at nine severities in ten of a cell. Shown on nine lists it is one of these: the
    chance is 0.9 of that of a defect that sets it for sure, and not 0.9 to the ninth."""
    lists = tuple((shown(0.9, 1.0), 1) for _ in range(times))
    half, sure = coin(lists)[:, 0]
    assert half == pytest.approx(doubted(0.9 * YES**times + 0.1 * NO**times))
    assert sure == pytest.approx(doubted(YES**times))


def test_lists_in_two_situations_hold_together_where_the_code_is_less_sure() -> None:
    """By hand: set in 0.9 and in 0.5 of a cell; in the half where the second is, the first is too."""
    (both,) = coin(((shown(0.9), 1), (shown(0.5), 1)))[:, 0]
    assert both == pytest.approx(doubted(0.5 * YES**2 + 0.4 * YES * NO + 0.1 * NO**2))


def test_what_was_told_before_and_what_is_told_now_make_the_whole() -> None:
    one, other = (shown(0.9, 0.2), 1), (shown(0.4, 1.0), 1)
    assert coin((one,)) * coin((other,), (one,)) == pytest.approx(coin((one, other)))


def low(unit: str, chance: float) -> ListFactor:
    """A unit's list that shows "supply low", by the chance that it is set under one defect."""
    ratio = np.array([[chance * YES + (1.0 - chance) * NO]])
    rule = RuleFactor(present=ratio, gone=ratio, past=None, ends=(YES, NO), supply=True)
    return ListFactor(finding=unit, unit=unit, rules={"168/4": rule})


def test_two_units_that_say_their_supply_is_low_say_it_of_one_battery() -> None:
    """By hand: with a cell shorted it is low enough for one unit in 0.3 of all machines, for the other in
    0.25, and these are among them. As two tosses that was 0.075, and a battery that is discharged so far
    that both are sure to say so led three times too far."""
    both = coin(((low("U", 0.3), 1), (low("V", 0.25), 1)))[0, 0]
    yes, no = doubted(YES), doubted(NO)
    assert both == pytest.approx(0.25 * yes * yes + 0.05 * yes * no + 0.7 * no * no)


def test_the_book_may_be_wrong_about_one_of_two_supplies() -> None:
    """By hand: one unit says so and the other does not, though both see the same volts."""
    quiet = (1.0 - SHOWN) / (1.0 - SHOWN_IF_WRONG), (1.0 - SPURIOUS) / (1.0 - SHOWN_IF_WRONG)
    ratio = np.array([[0.4 * quiet[0] + 0.6 * quiet[1]]])
    rule = RuleFactor(present=ratio, gone=ratio, past=None, ends=quiet, supply=True)
    other = ListFactor(finding="V", unit="V", rules={"168/4": rule})
    (told,) = coin(((low("U", 0.4), 1), (other, 1)))[:, 0]
    hold = doubted(YES) * doubted(quiet[0])
    assert told == pytest.approx(0.4 * hold + 0.6 * doubted(NO) * doubted(quiet[1]))


def test_supplies_told_before_and_now_make_the_whole() -> None:
    one, other = (low("U", 0.9), 1), (low("V", 0.4), 1)
    again = (low("U", 0.8), 1)
    assert coin((one, other)) * coin((again,), (one, other)) == pytest.approx(
        coin((one, other, again))
    )
