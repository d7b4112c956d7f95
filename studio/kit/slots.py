"""Slots: places on the pages of one app that another app fills, so that no page names an address above its own.

A page says `{% slot "plan" %}`. An app that has something for it registers one template when it is ready; the
template is given the page's context and the slot's name as `slot`, and shows nothing for slots it does not know.
"""

_templates: list[str] = []


def fill_slots(template: str) -> None:
    """Show this template in every slot."""
    if template not in _templates:
        _templates.append(template)


def slot_templates() -> tuple[str, ...]:
    return tuple(_templates)
