"""A draft is filled from the tables; what it gets wrong is named, with its place."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.quote.fill import fill_draft

if TYPE_CHECKING:
    from rigledger.claims.model import Judged
    from rigledger.quote.figures import Ledger
    from rigledger.quote.fill import Filled

KD = "rig=a.q3-52 workload=kippereen-deep metric=average_fps"


def filled(text: str, ledger: Ledger, *, html: bool = False) -> Filled:
    return fill_draft(text, ledger, html=html)


def told(made: Filled) -> list[tuple[str, str, str]]:
    return [(held.rule, held.reason, held.next_step) for held in made.findings]


@pytest.mark.parametrize(
    ("placeholder", "expected"),
    [
        (f"{{@ change {KD} @}}", "−12 %"),
        (
            "{@ change rig=a.q3-52 title='Kippereen Deep' metric=average_fps | digits=1 @}",
            "−11.6 %",
        ),
        ("{@ value rig=a.q3-52 level=x16 @}", "63.3 fps"),
        ("{@ mean-change title_set=all @}", "−6.0 %"),
        ("{@ difference rig=a.q3-94 against=a.q3-52 | faster-slower @}", "100 % faster"),
        ("{@ difference rig=a.q3-52 against=a.q3-94 | faster-slower @}", "50 % slower"),
        ("{@ largest-loss metric=average_fps @}", "Up to 12 %"),
        ("{@ largest-gain metric=average_fps | tight @}", "Up to 1.5%"),
        ("{@ count runs @}", "3"),
        ("{@ count rigs level=x16 @}", "1"),
        ("{@ material-change @}", "3 %"),
        ("{@ claim loss @}", "Up to 12 % slower"),
        ("{@ claim loss | size, interval @}", "Up to 12 % (10 to 13 %)"),
        ("{@ claim twice @}", "Twice"),
        ("{@ claim loss | sentence @}", "It is up to 12 % slower."),
    ],
)
def test_a_placeholder_becomes_its_figure(ledger: Ledger, placeholder: str, expected: str) -> None:
    made = filled(placeholder, ledger)
    assert (made.text, made.count("error", "open", "stray")) == (expected, 0)


@pytest.mark.parametrize(
    ("placeholder", "rule", "reason", "step"),
    [
        ("{@ change rig=a.q3-53 @}", "unknown_name", "the tables hold no rig 'a.q3-53'",
         "did you mean 'a.q3-52' or 'a.q3-94'?"),
        ("{@ change rigg=a @}", "unknown_name", "change can't be narrowed by 'rigg'",
         "did you mean 'rig'?"),
        ("{@ value rig=zoe.q1-94 @}", "withdrawn",
         "rig 'zoe.q1-94': the set zoe.first was withdrawn (wrong slot)",
         "take the figure out of the text, or quote a release that still holds the set"),
        ("{@ value rig=a.q3-52 level=x4 @}", "not_measured",
         "a.q3-52, x4: the cell was not measured",
         "measure it (rigledger sheet --remaining), or take the figure out of the text"),
        ("{@ change rig=a.q3-94 metric=energy_j @}", "not_measured",
         "a.q3-94, energy_j: nothing of it was planned or measured",
         "measure it (rigledger sheet --remaining), or take the figure out of the text"),
        ("{@ change rig=a.q3-52 metric=average_fps @}", "names_several",
         "fits 2 rows of the tables", "say which one: workload=kippereen-deep or thrumgate-88"),
        ("{@ count runz @}", "unknown_name", "'runz' are not counted", "did you mean 'runs'?"),
        ("{@ claim los @}", "unknown_name", "claims.toml states no claim 'los'",
         "did you mean 'loss'?"),
        ("{@ largest-gain metric=energy_j @}", "nothing_shown",
         "no gain is shown in any of 1 comparisons", "write that none is shown"),
        ("{@ change", "syntax", "the placeholder doesn't end", "close it: @}"),
    ],
)  # fmt: skip
def test_a_placeholder_without_a_figure_is_an_error_and_stays(
    ledger: Ledger, placeholder: str, rule: str, reason: str, step: str
) -> None:
    made = filled(placeholder, ledger)
    assert (made.text, told(made)) == (placeholder, [(rule, reason, step)])
    assert [held.severity for held in made.findings] == ["error"]


@pytest.mark.parametrize(
    ("placeholder", "rule", "step"),
    [
        ("{@ claim wrong @}", "claim_fails",
         "mend the sentence, or acknowledge the claim in claims.toml"),
        ("{@ claim broad @}", "claim_too_broad",
         "it would hold as: With the small card it is 12 % slower."),
        ("{@ claim open @}", "claim_not_settled",
         "mend the sentence, or acknowledge the claim in claims.toml"),
        ("{@ change rig=a.q3-94 workload=thrumgate-88 @}", "no_verdict", "say so in the text"),
        ("{@ change rig=a.q3-52 workload=thrumgate-88 | faster-slower @}", "direction_not_shown",
         "leave the word away and ask for the interval"),
    ],
)  # fmt: skip
def test_a_figure_that_the_data_do_not_bear_out_is_open(
    ledger: Ledger, placeholder: str, rule: str, step: str
) -> None:
    (finding,) = filled(placeholder, ledger).findings
    assert (finding.rule, finding.severity, finding.next_step) == (rule, "open", step)


def test_what_is_worth_knowing_does_not_stop_it(ledger: Ledger) -> None:
    made = filled("{@ mean-change title_set=all @} {@ largest-loss metric=average_fps @}", ledger)
    assert [(held.rule, held.severity) for held in made.findings] == [
        ("titles_missing", "remark"), ("without_verdict", "remark"),
    ]  # fmt: skip


def test_a_claim_whose_figure_moved_within_what_holds_is_told(ledger: Ledger) -> None:
    loss = replace(ledger.claims["loss"], value=-11.2)
    ledger.__dict__["claims"] = {"loss": loss}
    made = filled("{@ claim loss @}", ledger)
    assert made.text == "Up to 11 % slower"
    assert told(made) == [
        (
            "printed_otherwise",
            "claims.toml prints 'up to 12 % slower', the data round to 'Up to 11 % slower'",
            "bring claims.toml up to date",
        )
    ]


def test_names_and_manners_may_be_stated_once_for_all_below(ledger: Ledger) -> None:
    text = "{@ use rig=a.q3-52 metric=average_fps | size @}{@ change workload=kippereen-deep @}"
    assert filled(text, ledger).text == "12 %"


def test_a_directive_takes_the_line_with_it_that_it_has_to_itself(ledger: Ledger) -> None:
    text = "A\r\n  {@ use level=x16 @} \r\n{@ allow 9 @}B 9\r\n"
    assert filled(text, ledger).text == "A\r\nB 9\r\n"


def test_what_is_stated_for_all_is_dropped_where_a_word_has_no_use_for_it(ledger: Ledger) -> None:
    text = "{@ use contrast=x8-against-x16 level=x16 @}{@ value rig=a.q3-52 @}"
    assert filled(text, ledger).text == "63.3 fps"


def test_a_stray_number_is_told_with_line_and_column(ledger: Ledger) -> None:
    made = filled("One line\r\n\r\n{@ count runs @} runs, not 4.\r\n", ledger)
    (finding,) = made.findings
    assert (finding.rule, finding.line, finding.column, finding.value) == (
        "stray_number", 3, 28, "4",
    )  # fmt: skip


def test_an_allowed_number_may_stand_and_one_that_is_nowhere_is_told(ledger: Ledger) -> None:
    made = filled("{@ allow 24 GB; 9 lives @}It has 24 GB.", ledger)
    assert told(made) == [("unused", "'9 lives' is allowed and occurs nowhere", "drop it")]
    assert made.left_alone == ((1, "24", "allowed"),)


def test_placeholders_in_code_comments_and_links_stay(ledger: Ledger) -> None:
    text = "`{@ count runs @}` <!-- {@ count runs @} -->\n\n```\n{@ nonsense\n```\n"
    made = filled(text, ledger)
    assert (made.text, [held.rule for held in made.findings]) == (text, ["in_code", "in_code"])


def test_a_readable_attribute_is_filled_and_escaped(ledger: Ledger) -> None:
    text = '<img alt="{@ claim sharp | sentence @}" width="12">&nbsp;&lt;5'
    held = dict(ledger.claims)
    loss = held["loss"]
    ledger.__dict__["claims"] = held | {"sharp": _said(loss, 'a < "b" & c')}
    assert filled(text, ledger, html=True).text == (
        '<img alt="a &lt; &quot;b&quot; &amp; c" width="12">&nbsp;&lt;5'
    )


def test_a_sentence_is_kept_from_being_read_as_markup(ledger: Ledger) -> None:
    ledger.__dict__["claims"] = {"sharp": _said(ledger.claims["loss"], "a*b* <i>")}
    assert filled("{@ claim sharp | sentence @}", ledger).text == "a\\*b\\* \\<i\\>"


def _said(judged: Judged, sentence: str) -> Judged:
    return replace(judged, claim=replace(judged.claim, sentence=sentence))


def test_each_figure_is_recorded_with_its_sentence(ledger: Ledger) -> None:
    text = f"# Head\n\nFirst one. It is {{@ change {KD}\n | interval @}} here, *all* told. Last.\n"
    (given,) = filled(text, ledger).figures
    assert (given.placeholder, given.nth, given.line, given.text) == (
        f"{{@ change {KD} | interval @}}", 1, 3, "−12 % (−13 to −10 %)",
    )  # fmt: skip
    assert (given.value, given.low, given.high, given.unit) == (-11.64, -12.91, -10.34, "%")
    assert given.sentence == "It is −12 % (−13 to −10 %) here, *all* told."


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(st.text(), st.text(), st.booleans())
def test_nothing_but_the_placeholder_is_touched(
    ledger: Ledger, before: str, after: str, html: bool
) -> None:
    before, after = before.replace("`", "").replace("<", ""), after.replace("{@", "")
    before = before.replace("{@", "").replace("[", "") + "\n\nA "
    text = f"{before}{{@ count runs @}} {after}"
    made = filled(text, ledger, html=html)
    assert made.text == (f"{before}3 {after}" if made.figures else text)
