"""What a refusal says, word for word, and which parameter it names: people read these sentences."""

from collections.abc import Callable

import pytest

from service.science.domain import OutOfDomain
from tests.science.sentences_of_mixing import OF_MIXING
from tests.science.sentences_of_pests import OF_PESTS

SENTENCES = [*OF_MIXING, *OF_PESTS]


@pytest.mark.parametrize(
    ("refused", "parameter", "sentence"), SENTENCES, ids=[sentence[:40] for *_, sentence in SENTENCES]
)
def test_a_refusal_says_what_is_wrong(refused: Callable[[], object], parameter: str, sentence: str) -> None:
    with pytest.raises(OutOfDomain) as problem:
        refused()
    assert (problem.value.parameter, str(problem.value)) == (parameter, sentence)
