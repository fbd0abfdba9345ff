"""Forms whose failures are seen: an exception inside a widget's callback would otherwise vanish."""

import html

from pipeline.errors import SparebenchError
from pipeline.reports import theme

_LABEL = {"description_width": "9rem"}


def guarded(action, status):
    """Wrap a callback so that what it returns, or what it raises, shows in the notebook.

    Parameters
    ----------
    action : callable
        Takes nothing; returns a sentence for the reader.
    status : ipywidgets.HTML
        Where the sentence goes.

    Returns
    -------
    callable
        For ``on_click``: takes the widget, never raises.
    """

    def run(_widget=None):
        try:
            status.value = _sentence(action(), theme.MAIN)
        except SparebenchError as error:
            status.value = _sentence(str(error), theme.WARNING)
        except Exception as error:  # whatever it is, a callback's failure must reach the reader
            status.value = _sentence(f"Nothing was recorded. {type(error).__name__}: {error}", theme.WARNING)

    return run


def form(fields, button, action):
    """A form: fields, one button, and a line that says what came of it.

    Parameters
    ----------
    fields : dict of str to ipywidgets.Widget
        By the name under which ``action`` takes their values.
    button : str
        Words on the button.
    action : callable
        Takes the values by name, returns a sentence.

    Returns
    -------
    ipywidgets.VBox
        To display.
    """
    import ipywidgets

    status = ipywidgets.HTML()
    press = ipywidgets.Button(description=button, button_style="primary", layout={"width": "14rem"})
    press.on_click(guarded(lambda: action(**{name: field.value for name, field in fields.items()}), status))
    return ipywidgets.VBox([*fields.values(), press, status])


def choosing_form(choice, fields_of, fixed, button, action):
    """A form whose fields depend on what is chosen.

    Parameters
    ----------
    choice : ipywidgets.Dropdown
        What is chosen.
    fields_of : callable
        Takes the chosen value, returns a dict of str to widget; asked again once something was recorded.
    fixed : dict of str to ipywidgets.Widget
        Fields that stay, by the name under which ``action`` takes their values.
    button : str
        Words on the button.
    action : callable
        Takes the chosen value, a dict of the fields' values, and the fixed ones by name; returns a sentence.

    Returns
    -------
    ipywidgets.VBox
        The choice, a box of its fields, the fixed fields, the button and the line that says what came of it.
    """
    import ipywidgets

    status, box, fields = ipywidgets.HTML(), ipywidgets.VBox(), {}
    press = ipywidgets.Button(description=button, button_style="primary", layout={"width": "14rem"})

    def lay():
        fields.clear()
        fields.update(fields_of(choice.value))
        box.children = tuple(fields.values())
        return f"{choice.value} is chosen."

    def act():
        typed = {name: field.value for name, field in fields.items()}
        said = action(choice.value, typed, **{name: field.value for name, field in fixed.items()})
        lay()
        return said

    choice.observe(guarded(lay, status), names="value")
    press.on_click(guarded(act, status))
    lay()
    return ipywidgets.VBox([choice, box, *fixed.values(), press, status])


def live_form(fields, action):
    """A form that answers as its fields are moved.

    Parameters
    ----------
    fields : dict of str to ipywidgets.Widget
        By the name under which ``action`` takes their values.
    action : callable
        Takes the values by name, returns HTML.

    Returns
    -------
    ipywidgets.VBox
        The fields, the answer, and the line that says what went wrong.
    """
    import ipywidgets

    status, answer = ipywidgets.HTML(), ipywidgets.HTML()

    def act():
        answer.value = action(**{name: field.value for name, field in fields.items()})
        return "As moved."

    for field in fields.values():
        field.observe(guarded(act, status), names="value")
    guarded(act, status)()
    return ipywidgets.VBox([*fields.values(), status, answer])


def slide_field(label, value, low, high, step, words):
    """A field to slide; it tells its value once the hand lets go.

    Parameters
    ----------
    label : str
        Words before the field.
    value, low, high, step : float
        Value at first, ends and step.
    words : str
        How the value is written, as a format of Python.

    Returns
    -------
    ipywidgets.FloatSlider
        The field.
    """
    import ipywidgets

    return ipywidgets.FloatSlider(
        value=value, min=low, max=high, step=step, description=label, readout_format=words, continuous_update=False,
        style=_LABEL, layout={"width": "34rem"},
    )


def tick_field(label):
    """A field to tick, not ticked at first.

    Parameters
    ----------
    label : str
        Words behind the box.

    Returns
    -------
    ipywidgets.Checkbox
        The field.
    """
    import ipywidgets

    return ipywidgets.Checkbox(value=False, description=label, indent=False, layout={"width": "28rem"})


def text_field(label, hint="", value=""):
    """A field for typed text.

    Parameters
    ----------
    label : str
        Words before the field.
    hint : str
        Words shown while it is empty.
    value : str
        What it holds at first.

    Returns
    -------
    ipywidgets.Text
        The field.
    """
    import ipywidgets

    return ipywidgets.Text(
        value=value, placeholder=hint, description=label, style=_LABEL, layout={"width": "28rem"}
    )


def known_field(label, known, hint=""):
    """A field that suggests what the store already holds as one types.

    Parameters
    ----------
    label : str
        Words before the field.
    known : sequence of str
        What to suggest.
    hint : str
        Words shown while it is empty.

    Returns
    -------
    ipywidgets.Combobox
        The field; other text is accepted here and checked when written.
    """
    import ipywidgets

    return ipywidgets.Combobox(
        options=list(known),
        placeholder=hint,
        description=label,
        ensure_option=False,
        style=_LABEL,
        layout={"width": "28rem"},
    )


def choice_field(label, choices):
    """A field with a few fixed choices.

    Parameters
    ----------
    label : str
        Words before the field.
    choices : sequence of (str, object)
        Words and values; the first is chosen at first.

    Returns
    -------
    ipywidgets.Dropdown
        The field.
    """
    import ipywidgets

    return ipywidgets.Dropdown(
        options=list(choices), description=label, style=_LABEL, layout={"width": "28rem"}
    )


def _sentence(text, colour):
    return f'<span role="status" style="color:{colour}">{html.escape(text or "Done.")}</span>'
