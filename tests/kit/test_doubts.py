"""What is out of the ordinary is asked about once, and a tick answers for exactly what it stands beside."""

from django.http import QueryDict

from inventory.forms.sheet import Sheet
from studio.kit.doubts import Doubt
from studio.kit.fields import MassField
from studio.kit.forms import StudioForm
from studio.kit.rows import RowForm, make_rows


class Scale(StudioForm):
    mass = MassField(label="Weight")

    def doubts(self) -> dict[str, str]:
        return (
            {"mass": f"{self.cleaned_data['mass']} mg is much."} if self.cleaned_data["mass"] > 9_000 else {}
        )


class ScaleRow(RowForm, Scale):
    pass


Scales = make_rows(ScaleRow)


def weigh(query: str) -> Sheet:
    data = QueryDict(f"rows-TOTAL_FORMS=1&rows-INITIAL_FORMS=0&{query}")
    sheet = Sheet(Scale(data), rows=Scales(data, prefix="rows"))
    assert sheet.is_valid()
    return sheet


def tick(sentence: str) -> str:
    return f"sure={Doubt(sentence).key}"


def test_what_is_ordinary_is_not_asked_about():
    assert not weigh("mass=9").has_doubts()


def test_a_doubt_stands_beside_its_field_with_a_tick():
    sheet = weigh("mass=10")
    assert sheet.has_doubts()
    shown = str(sheet.form["mass"].as_field_group())
    assert "10000 mg is much." in shown and f'value="{Doubt("10000 mg is much.").key}"' in shown
    assert "Yes, it is right" in shown and "checked" not in shown
    (line,) = sheet.mistakes
    assert (line["target"], line["sentence"]) == ("id_mass", "10000 mg is much.")
    assert "Is this right?" in str(sheet.form)


def test_a_tick_answers_for_the_figure_it_stands_beside_and_no_other():
    assert not weigh(f"mass=10&{tick('10000 mg is much.')}").has_doubts()
    assert weigh(f"mass=11&{tick('10000 mg is much.')}").has_doubts()
    assert weigh("mass=10&sure=on&sure=").has_doubts()


def test_each_line_is_asked_about_and_one_tick_is_not_enough_for_two():
    ticked = tick("10000 mg is much.")
    sheet = weigh(f"mass=10&rows-0-mass=12&{ticked}")
    assert sheet.has_doubts()
    assert "checked" in str(sheet.form["mass"].as_field_group())
    assert "checked" not in str(sheet.rows["rows"].forms[0]["mass"].as_field_group())
    assert not weigh(f"mass=10&rows-0-mass=12&{ticked}&{tick('12000 mg is much.')}").has_doubts()
