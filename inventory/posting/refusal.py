"""How posting says no: a mistake of the person's, with a sentence to show beside the field it belongs to."""

from collections.abc import Sequence


class Refused(Exception):
    """Nothing was posted. `sentence` says why and how to mend it; `field` names the field if there is one."""

    def __init__(self, sentence: str, field: str = "", blockers: Sequence[int] = ()) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
        #: Entries that stand in the way of a reversal, newest first.
        self.blockers = tuple(blockers)
