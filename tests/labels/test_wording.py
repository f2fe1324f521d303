import pytest

from registry import errors
from registry.wording import labels
from registry.wording.problems import problem

EXAMPLES = [
    errors.BadSite("pots"),
    errors.UnknownStock("a4", ("a4-70x37",)),
    errors.BadStockName("A 4"),
    errors.BadStockName("plain-a4", taken=True),
    errors.BadMeasure("label width", 0, 8, 1200),
    errors.BadMeasure("nudge right", 0.05, -10, 10),
    errors.StockTooBig("own", "across", 230, 210),
    errors.LabelsOverlap("own", "down", 20, 30),
    errors.StartBeyondSheet(22, 21, "plain-a4"),
    errors.BadResolution(72, 150, 2400),
    errors.NoLabels(),
    errors.DoesNotFit("26-0014-X", "Rosa", "a4-25.4x10", 5),
    errors.NoRoomForCounts("26-0014-X", "plain-a4", 50, 38),
    errors.NotInFont("26-0014-X", "牡丹", "牡"),
    errors.PayloadTooLong("26-0014-X", 4000),
    errors.PhotosNotInstalled(),
    errors.PreviewNotInstalled(),
    errors.NotOneLabel("plain-a4", ".zpl"),
    errors.SiteMissing(),
    errors.NoOperator("eu"),
    errors.NoPassportHere(),
    errors.NotABotanicalName("26-0014-X", "fig"),
    errors.NotATag("26-0014-X"),
    errors.TagBound("26-0014-X", "26-0015-8"),
    errors.TagNotBound("26-0014-X"),
    errors.NotALabel("hello"),
    errors.NotAPicture("x.png"),
    errors.NoSymbolInPicture("x.png"),
]


@pytest.mark.parametrize("error", EXAMPLES, ids=str)
def test_a_problem_is_a_sentence_that_names_what_was_given(error):
    sentence = problem(error)
    assert sentence[-1] == "."
    for name in error.fields:
        value = getattr(error, name)
        if isinstance(value, str) and name not in ("what", "direction"):
            assert value in sentence


def test_reports_count_in_words():
    assert labels.symbol_reduced(1, "a4-25.4x10").startswith("1 label: ")
    assert labels.symbol_missing(3, "a4-25.4x10").startswith("3 labels have no symbol")
    assert labels.lines_left_out("26-0014-X", ("a", "b")) == "26-0014-X: no room for “a”, “b”."
